/* Runs a fuzz target over the files named, without a fuzzer: what `make check` does with the seeds. */
#include "target.h"

#include <stdio.h>
#include <stdlib.h>

int main(int argc, char **argv)
{
    for (int i = 1; i < argc; i++) {
        FILE *file = fopen(argv[i], "rb");
        size_t room = 1, length = 0;
        unsigned char *bytes = malloc(room);

        if (!file || !bytes) {
            perror(argv[i]);
            return 1;
        }
        for (size_t got = 1; got; length += got) {
            if (length == room) {
                unsigned char *more = realloc(bytes, room *= 2);
                if (!more) {
                    perror(argv[i]);
                    return 1;
                }
                bytes = more;
            }
            got = fread(bytes + length, 1, room - length, file);
        }
        (void) fclose(file);
        (void) LLVMFuzzerTestOneInput(bytes, length);
        free(bytes);
    }
    return 0;
}
