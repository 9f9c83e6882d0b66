"""A mail server on loopback for tests: SMTP by aiosmtpd, and faults by command.

    mail_server.py PORT [MODE]

"ready" is printed once it listens. Each line of standard input is a mode, for all that comes after it:

    take      every message is taken and printed as a line of JSON: to, subject, text
    later     450 at RCPT TO
    never     550 at RCPT TO
    hang      RCPT TO is not answered

The server ends when standard input does.
"""

import asyncio
import json
import sys
from email import message_from_bytes, policy

from aiosmtpd.controller import Controller


class Handler:
    mode = "take"

    async def handle_RCPT(self, server, session, envelope, address, options):
        if self.mode == "hang":
            await asyncio.sleep(600)
        if self.mode == "later":
            return "450 not now"
        if self.mode == "never":
            return "550 no such person"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        message = message_from_bytes(envelope.content, policy=policy.default)
        told = {
            "to": envelope.rcpt_tos,
            "subject": message["subject"],
            "id": message["message-id"],
            "auto": message["auto-submitted"],
            "text": message.get_content().replace("\r\n", "\n"),
        }
        print(json.dumps(told), flush=True)
        return "250 taken"


handler = Handler()
if len(sys.argv) > 2:
    handler.mode = sys.argv[2]
controller = Controller(handler, hostname="127.0.0.1", port=int(sys.argv[1]))
controller.start()
print("ready", flush=True)
for line in sys.stdin:
    handler.mode = line.strip()
    print("done", flush=True)
controller.stop()
