/* replay.c - Run a target over a folder of inputs, and over the same inputs damaged by chance from
 * a fixed seed. usage: replay FOLDER COUNT [FILE NUMBER] Each file is taken as it is (number 0),
 * then COUNT times damaged. With FILE and NUMBER that one input is taken alone, and written to the
 * file "input" in the folder at hand, so that it can be kept.
 */
#include <dirent.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include "fuzz/fuzz.h"

/* An input that takes longer hangs, even under a sanitizer on a busy machine. */
enum { SECONDS_MAX = 60, INPUT_MAX = 1 << 20 };

struct input {
    size_t size;
    uint8_t at[INPUT_MAX];
};

static uint64_t next_chance(uint64_t *state) /* splitmix64 */
{
    uint64_t z = *state += 0x9e3779b97f4a7c15;
    z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9;
    z = (z ^ z >> 27) * 0x94d049bb133111eb;
    return z ^ z >> 31;
}

static bool read_input(const char *folder, const char *name, struct input *out)
{
    char path[4096];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        perror(path);
        return false;
    }
    out->size = fread(out->at, 1, sizeof out->at, file);
    return fclose(file) == 0;
}

/* -- damage -- */

static void cut_out(struct input *input, size_t from, size_t count)
{
    count = count < input->size - from ? count : input->size - from;
    memmove(input->at + from, input->at + from + count, input->size - from - count);
    input->size -= count;
}

static void put_in(struct input *input, size_t from, const void *bytes, size_t count)
{
    if (input->size + count <= INPUT_MAX) {
        memmove(input->at + from + count, input->at + from, input->size - from);
        memcpy(input->at + from, bytes, count);
        input->size += count;
    }
}

static void repeat_part(struct input *input, size_t from, size_t count)
{
    uint8_t part[64];
    count = count < sizeof part ? count : sizeof part;
    count = count < input->size - from ? count : input->size - from;
    memcpy(part, input->at + from, count);
    put_in(input, from, part, count);
}

static void damage(struct input *input, uint64_t *chance)
{
    static const char *const words[] = {
        "0",  "-1", "1e308", "9223372036854775807", "4294967296", "nan",
        "\n", "\"", ",",     "\xff\xff\xff\xff",    ": ",         "$end"};
    if (input->size == 0) {
        return;
    }
    size_t from = next_chance(chance) % input->size;
    size_t count = 1 + next_chance(chance) % 16;
    const char *word = words[next_chance(chance) % (sizeof words / sizeof words[0])];
    switch (next_chance(chance) % 8) {
    case 0: input->size = from; break;
    case 1: cut_out(input, from, count); break;
    case 2: repeat_part(input, from, 4 * count); break;
    case 3: put_in(input, from, word, strlen(word)); break;
    case 4: input->at[from] = (uint8_t)next_chance(chance); break;
    case 5: memset(input->at + from, 0xff, count < input->size - from ? count : 1); break;
    default: input->at[from] ^= (uint8_t)(1U << next_chance(chance) % 8); break;
    }
}

/* Input `number` of a file: as it is, or damaged one to four times. The same on every machine. */
static void make_input(const struct input *file, uint64_t number, struct input *out)
{
    uint64_t chance = number;
    out->size = file->size;
    memcpy(out->at, file->at, file->size);
    for (uint64_t left = number == 0 ? 0 : 1 + number % 4; left > 0; left--) {
        damage(out, &chance);
    }
}

/* -- running -- */

/* Bytes in a block of just their size, so that a sanitizer sees a step beyond. */
static void take(const struct input *input)
{
    uint8_t *bytes = malloc(input->size + (input->size == 0));
    MUST(bytes != NULL);
    memcpy(bytes, input->at, input->size);
    (void)alarm(SECONDS_MAX);
    MUST(LLVMFuzzerTestOneInput(bytes, input->size) == 0);
    free(bytes);
}

static void take_all(const struct input *file, uint64_t count, volatile uint64_t *number)
{
    static struct input input;
    for (*number = 0; *number <= count; (*number)++) {
        make_input(file, *number, &input);
        take(&input);
    }
}

/* A process for each file, so that one that falls over can be told by name. */
static bool run_file(const char *folder, const char *name, uint64_t count,
                     volatile uint64_t *number)
{
    static struct input file;
    int status = 0;
    if (!read_input(folder, name, &file)) {
        return false;
    }
    pid_t child = fork();
    if (child == 0) {
        take_all(&file, count, number);
        exit(EXIT_SUCCESS);
    }
    bool is_done = child > 0 && waitpid(child, &status, 0) == child && WIFEXITED(status) &&
                   WEXITSTATUS(status) == EXIT_SUCCESS;
    if (!is_done) {
        (void)fprintf(stderr, "FAILED: %s/%s, input %llu (again: replay %s 0 %s %llu)%s\n", folder,
                      name, (unsigned long long)*number, folder, name, (unsigned long long)*number,
                      WIFSIGNALED(status) && WTERMSIG(status) == SIGALRM ? ": took too long" : "");
    }
    return is_done;
}

static int is_input(const struct dirent *entry)
{
    return entry->d_name[0] != '.';
}

static int run_folder(const char *folder, uint64_t count)
{
    struct dirent **entry = NULL;
    int entries = scandir(folder, &entry, is_input, alphasort);
    volatile uint64_t *number =
        mmap(NULL, sizeof *number, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    int failed = 0;
    MUST(number != MAP_FAILED);
    for (int i = 0; i < entries; i++) {
        failed += !run_file(folder, entry[i]->d_name, count, number);
        free(entry[i]);
    }
    free(entry);
    (void)printf("%s: %d inputs, each also damaged %llu times, %d failed\n", folder, entries,
                 (unsigned long long)count, failed);
    return entries > 0 && failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}

static int run_one(const char *folder, const char *name, uint64_t number)
{
    static struct input file;
    static struct input input;
    if (!read_input(folder, name, &file)) {
        return EXIT_FAILURE;
    }
    make_input(&file, number, &input);
    FILE *kept = fopen("input", "wb");
    MUST(kept != NULL && fwrite(input.at, 1, input.size, kept) == input.size && fclose(kept) == 0);
    take(&input);
    return EXIT_SUCCESS;
}

int main(int argc, char **argv)
{
    if (argc != 3 && argc != 5) {
        (void)fprintf(stderr, "usage: replay FOLDER COUNT [FILE NUMBER]\n");
        return EXIT_FAILURE;
    }
    return argc == 3 ? run_folder(argv[1], strtoull(argv[2], NULL, 10))
                     : run_one(argv[1], argv[3], strtoull(argv[4], NULL, 10));
}
