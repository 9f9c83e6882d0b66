/* An independent Modbus TCP client: libmodbus.
 *
 *     libmodbus_client PORT
 *
 * Each line of standard input is one number to read, "DEVICE SPACE ADDRESS TYPE ORDER", for example
 * "1 input 10 f32 CDAB"; it is answered by one line: the number, or "exception" and its code. SPACE is input,
 * holding, discrete or coil; TYPE is i16, u16, f32 or bit. Order of a bit or of one word is of no meaning.
 */
#include <errno.h>
#include <modbus/modbus.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static float floating(const char *order, const uint16_t *words)
{
    if (strcmp(order, "ABCD") == 0)
        return modbus_get_float_abcd(words);
    if (strcmp(order, "DCBA") == 0)
        return modbus_get_float_dcba(words);
    if (strcmp(order, "BADC") == 0)
        return modbus_get_float_badc(words);
    if (strcmp(order, "CDAB") == 0)
        return modbus_get_float_cdab(words);
    fprintf(stderr, "unknown order %s\n", order);
    exit(2);
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fprintf(stderr, "usage: libmodbus_client PORT\n");
        return 2;
    }
    modbus_t *link = modbus_new_tcp("127.0.0.1", atoi(argv[1]));
    if (link == NULL || modbus_connect(link) == -1) {
        fprintf(stderr, "no connection: %s\n", modbus_strerror(errno));
        return 2;
    }
    modbus_set_response_timeout(link, 10, 0);
    int device, address;
    char space[16], type[8], order[8];
    while (scanf("%d %15s %d %7s %7s", &device, space, &address, type, order) == 5) {
        uint16_t words[2] = {0, 0};
        uint8_t bit = 0;
        int count = strcmp(type, "f32") == 0 ? 2 : 1;
        int read;
        modbus_set_slave(link, device);
        if (strcmp(space, "input") == 0)
            read = modbus_read_input_registers(link, address, count, words);
        else if (strcmp(space, "holding") == 0)
            read = modbus_read_registers(link, address, count, words);
        else if (strcmp(space, "discrete") == 0)
            read = modbus_read_input_bits(link, address, count, &bit);
        else
            read = modbus_read_bits(link, address, count, &bit);
        if (read != count) {
            if (errno <= MODBUS_ENOBASE) {
                fprintf(stderr, "no answer: %s\n", modbus_strerror(errno));
                return 2;
            }
            printf("exception %d\n", errno - MODBUS_ENOBASE);
        } else if (count == 2)
            printf("%.9g\n", floating(order, words));
        else if (strcmp(type, "bit") == 0)
            printf("%d\n", bit);
        else if (strcmp(type, "i16") == 0)
            printf("%d\n", (int16_t)words[0]);
        else
            printf("%d\n", words[0]);
        fflush(stdout);
    }
    modbus_close(link);
    modbus_free(link);
    return 0;
}
