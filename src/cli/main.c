/* main.c - Find the command that was asked for and run it. */
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/fail.h"
#include "cli/commands.h"
#include "cli/complain.h"
#include "cli/options.h"
#include "lampread/lampread.h"

/* The name of a family and the command below it, as the user wrote them. */
struct path {
    const struct command *command;
    char text[64];
    int used; /* words of argv */
};

/* A recording in the place of a command is most likely meant to be read. */
static void hint_at_read(const char *word, struct lamp_error *error)
{
    if (strpbrk(word, "./") != NULL && access(word, F_OK) == 0) {
        (void)lamp_fail(error, LAMP_BAD_USE, word,
                        "this is no command; to read a recording: lampread read %s", word);
    }
}

/* Walk from lampread down to the command that runs; a word with a dash ends the walk. */
static enum lamp_err walk(int argc, char **argv, struct path *out, struct lamp_error *error)
{
    struct path path = {.command = &command_lampread, .text = "lampread", .used = 1};
    while (path.command->below != NULL && path.used < argc && argv[path.used][0] != '-') {
        const struct command *below = options_command(path.command, argv[path.used], error);
        if (below == NULL) {
            hint_at_read(argv[path.used], error);
            return LAMP_BAD_USE;
        }
        size_t length = strlen(path.text);
        (void)snprintf(path.text + length, sizeof path.text - length, " %s", below->name);
        path.command = below;
        path.used++;
    }
    *out = path;
    return LAMP_OK;
}

/* A family without a command can only tell the version. */
static int run_family(const struct path *path, const struct arguments *arguments)
{
    if (options_has(arguments, "version")) {
        (void)printf("lampread %s\n", LAMPREAD_VERSION);
        return EXIT_TOLD;
    }
    struct lamp_error error = {.place = "", .sentence = ""};
    (void)lamp_fail(&error, LAMP_BAD_USE, "", "a command is missing; '%s --help' lists them",
                    path->text);
    return complain(LAMP_BAD_USE, &error);
}

static int run(int argc, char **argv)
{
    struct lamp_error error = {.place = "", .sentence = ""};
    struct path path;
    struct arguments arguments;
    enum lamp_err failed = walk(argc, argv, &path, &error);
    if (failed == LAMP_OK) {
        failed = options_read(path.command, argc - path.used + 1, argv + path.used - 1, &arguments,
                              &error);
    }
    if (failed != LAMP_OK) {
        return complain(failed, &error);
    }
    if (arguments.wants_help) {
        options_explain(path.command, path.text, stdout);
        return EXIT_TOLD;
    }
    return path.command->run != NULL ? path.command->run(&arguments)
                                     : run_family(&path, &arguments);
}

int main(int argc, char **argv)
{
    char name[] = "lampread";
    if (argc < 1) {
        char *nothing[] = {name, NULL};
        return run(1, nothing);
    }
    int status = run(argc, argv);
    if (fflush(stdout) != 0 || ferror(stdout) != 0) {
        struct lamp_error error = {.place = "standard output", .sentence = "cannot be written"};
        return complain(LAMP_CANNOT_WRITE, &error);
    }
    return status;
}
