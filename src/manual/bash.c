/* bash.c - The commands' tables as a completion for bash. */
#include <string.h>

#include "manual/write.h"

static const char head[] =
    "# bash completion for lampread, made from its tables of commands\n"
    "\n"
    "_lampread_add() {\n"
    "    local line\n"
    "    while IFS= read -r line; do\n"
    "        COMPREPLY+=(\"$line\")\n"
    "    done\n"
    "}\n"
    "\n"
    "# Offer words: @files, @files:ENDING and @books stand for what there is.\n"
    "_lampread_offer() {\n"
    "    local word\n"
    "    for word in $1; do\n"
    "        case $word in\n"
    "        @files) _lampread_add < <(compgen -f -- \"$cur\") ;;\n"
    "        @files:*)\n"
    "            _lampread_add < <(compgen -f -X \"!*.${word#*:}\" -- \"$cur\"\n"
    "                compgen -d -- \"$cur\") ;;\n"
    "        @books)\n"
    "            _lampread_add < <(compgen -W \"$(lampread book list 2>/dev/null | cut -d ' ' -f "
    "1)\" "
    "-- \"$cur\") ;;\n"
    "        *) _lampread_add < <(compgen -W \"$word\" -- \"$cur\") ;;\n"
    "        esac\n"
    "    done\n"
    "}\n"
    "\n"
    "_lampread() {\n"
    "    local IFS=$' \\t\\n' cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD - 1]} "
    "path=lampread i\n"
    "    COMPREPLY=()\n"
    "    # bash parts --option=value at its sign\n"
    "    if [[ $cur == = ]]; then\n"
    "        cur=\n"
    "    elif [[ $prev == = ]]; then\n"
    "        prev=${COMP_WORDS[COMP_CWORD - 2]}\n"
    "    fi\n"
    "    for ((i = 1; i < COMP_CWORD; i++)); do\n"
    "        case \"$path ${COMP_WORDS[i]}\" in\n";

typedef void write_one(const struct command *command, const char *path, FILE *out);

/* NOLINTNEXTLINE(misc-no-recursion): as deep as commands stand below commands. */
static void walk(const struct command *command, const char *path, write_one *write, FILE *out)
{
    write(command, path, out);
    for (size_t i = 0; i < command->below_count; i++) {
        char name[PATH_BYTES_MAX];
        manual_path(name, path, command->below[i]->name);
        walk(command->below[i], name, write, out);
    }
}

static void write_step(const struct command *command, const char *path, FILE *out)
{
    (void)command;
    (void)fprintf(out, "        '%s') path='%s' ;;\n", path, path);
}

static void write_values(const struct command *command, const char *path, FILE *out)
{
    for (size_t i = 0; i < command->option_count; i++) {
        const struct option_rule *rule = &command->option[i];
        char words[256];
        if (rule->value == NULL) {
            continue;
        }
        options_offers(rule->offers, rule->value, words, sizeof words);
        (void)fprintf(out, "    '%s --%s'", path, rule->name);
        if (rule->letter != 0) {
            (void)fprintf(out, " | '%s -%c'", path, rule->letter);
        }
        (void)fprintf(out, ") _lampread_offer '%s'; return ;;\n", words);
    }
}

static void write_options(const struct command *command, const char *path, FILE *out)
{
    (void)fprintf(out, "    '%s -'*) _lampread_offer '--help", path);
    for (size_t i = 0; i < command->option_count; i++) {
        (void)fprintf(out, " --%s", command->option[i].name);
    }
    (void)fputs("' ;;\n", out);
}

static void write_operands(const struct command *command, const char *path, FILE *out)
{
    char words[256] = "";
    if (command->below == NULL) {
        options_offers(command->offers, command->operands, words, sizeof words);
    }
    (void)fprintf(out, "    '%s') _lampread_offer '%s", path, words);
    for (size_t i = 0; i < command->below_count; i++) {
        (void)fprintf(out, "%s%s", i > 0 ? " " : "", command->below[i]->name);
    }
    (void)fputs("' ;;\n", out);
}

void manual_write_bash(const struct command *root, FILE *out)
{
    (void)fputs(head, out);
    walk(root, root->name, write_step, out);
    (void)fputs("        esac\n    done\n    case \"$path $prev\" in\n", out);
    walk(root, root->name, write_values, out);
    (void)fputs("    esac\n    case \"$path $cur\" in\n", out);
    walk(root, root->name, write_options, out);
    (void)fputs("    esac\n    [[ $cur != -* ]] || return\n    case $path in\n", out);
    walk(root, root->name, write_operands, out);
    (void)fputs("    esac\n}\ncomplete -o filenames -F _lampread lampread\n", out);
}
