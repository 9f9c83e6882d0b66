//! `standpipe password`: the hash of a password for the site file.

use crate::people::password::hash;
use anyhow::Context;
use crossterm::event::{Event, KeyCode, KeyEventKind, KeyModifiers, read};
use crossterm::terminal::{disable_raw_mode, enable_raw_mode};
use std::io::{self, BufRead, IsTerminal, Write};
use std::process::ExitCode;

/// Make the hash of a password for `password_hash` of a [[person]]; the password is read from the terminal, twice,
/// or from the first line of stdin.
#[derive(Debug, clap::Args)]
pub struct Arguments {}

pub fn run(out: &mut impl Write) -> anyhow::Result<ExitCode> {
    let password = if io::stdin().is_terminal() {
        let password = asked("Password: ")?;
        anyhow::ensure!(
            asked("The same again: ")? == password,
            "the two are not the same; nothing was made"
        );
        password
    } else {
        let mut line = String::new();
        io::stdin().lock().read_line(&mut line).context("stdin")?;
        line.trim_end_matches(['\n', '\r']).to_owned()
    };
    writeln!(out, "password_hash = \"{}\"", hash(&password)?)?;
    Ok(ExitCode::SUCCESS)
}

/// A line from the terminal that is not shown.
fn asked(prompt: &str) -> anyhow::Result<String> {
    let mut terminal = io::stderr();
    write!(terminal, "{prompt}")?;
    terminal.flush()?;
    enable_raw_mode()?;
    let line = unseen();
    disable_raw_mode()?;
    writeln!(terminal)?;
    line
}

fn unseen() -> anyhow::Result<String> {
    let mut line = String::new();
    loop {
        let Event::Key(key) = read()? else { continue };
        if key.kind == KeyEventKind::Release {
            continue;
        }
        match key.code {
            KeyCode::Enter => return Ok(line),
            KeyCode::Backspace => drop(line.pop()),
            KeyCode::Char('c' | 'd') if key.modifiers.contains(KeyModifiers::CONTROL) => {
                anyhow::bail!("broken off; nothing was made")
            }
            KeyCode::Char(letter) => line.push(letter),
            _ => {}
        }
    }
}
