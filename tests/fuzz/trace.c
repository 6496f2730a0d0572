/* trace.c - Bytes as a trace in CSV. */
#include "fuzz/fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    struct lamp_source *source = fuzz_open(bytes, size, ".csv");
    if (source != NULL) {
        (void)fuzz_read(source, SIZE_MAX);
    }
    lamp_source_free(source);
    return 0;
}
