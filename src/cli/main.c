/* veilstop COMMAND ...: finds the command, reads its options, runs it. */
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "cli/apart.h"
#include "cli/cli.h"
#include "veilstop/base/numerics.h"

static const char *const caution =
    "Haze is breathed and sets off alarms. Defer to local code, the venue and licensed practice.\n";

static void add_commands(vs_text *out) {
    for (size_t i = 0; i < vs_cli_command_count; i++) {
        vs_text_addf(out, "  %-9s %s\n", vs_cli_commands[i]->name, vs_cli_commands[i]->summary);
    }
}

static vs_exit print_help(void) {
    vs_text out;
    vs_text_init(&out);
    vs_text_addf(&out,
                 "veilstop %s: what haze does to a shot, calculated\n\n"
                 "usage: veilstop COMMAND ... ; veilstop COMMAND --help tells its options\n\n",
                 VS_VERSION);
    add_commands(&out);
    vs_text_addf(&out, "\n%s", caution);
    vs_exit status = vs_cli_print(&out, VS_EXIT_DONE);
    vs_text_free(&out);
    return status;
}

static vs_exit print_command_help(const vs_cli_command *command) {
    vs_text out;
    vs_text_init(&out);
    vs_text_addf(&out, "usage: veilstop %s %s [options]\n\n%s\n\n", command->name,
                 command->operands, command->summary);
    for (size_t i = 0; i < VS_CLI_OPTION_MAX && command->option[i].name; i++) {
        const vs_cli_option *o = &command->option[i];
        char form[64];
        snprintf(form, sizeof form, "--%s%s%s", o->name, o->value ? " " : "",
                 o->value ? o->value : "");
        vs_text_addf(&out, "  %-24s %s\n", form, o->help);
    }
    vs_text_addf(&out, "  %-24s %s\n\n%s", "--help", "this", caution);
    vs_exit status = vs_cli_print(&out, VS_EXIT_DONE);
    vs_text_free(&out);
    return status;
}

/* The place of "--name" or "--name=value" among a command's options, or VS_CLI_OPTION_MAX. */
static size_t find_option(const vs_cli_command *command, const char *word, size_t length) {
    size_t i = 0;
    while (i < VS_CLI_OPTION_MAX && command->option[i].name &&
           !(strlen(command->option[i].name) == length &&
             strncmp(command->option[i].name, word, length) == 0)) {
        i++;
    }
    return i < VS_CLI_OPTION_MAX && command->option[i].name ? i : VS_CLI_OPTION_MAX;
}

/* Takes the option at argv[*at]; false after a message. */
static bool take_option(vs_cli_args *args, int argc, char **argv, int *at) {
    const char *name = args->command->name;
    const char *word = argv[*at] + 2;
    const char *equals = strchr(word, '=');
    size_t length = equals ? (size_t)(equals - word) : strlen(word);
    size_t place = find_option(args->command, word, length);
    if (place == VS_CLI_OPTION_MAX) {
        vs_cli_fail(VS_EXIT_USAGE, "%s: unknown option %s; try: veilstop %s --help", name,
                    argv[*at], name);
        return false;
    }
    const vs_cli_option *option = &args->command->option[place];
    if (args->value[place]) {
        vs_cli_fail(VS_EXIT_USAGE, "%s: --%s: must be given once", name, option->name);
        return false;
    }
    if (!option->value) {
        if (equals) {
            vs_cli_fail(VS_EXIT_USAGE, "%s: --%s: takes no value", name, option->name);
            return false;
        }
        args->value[place] = "";
        return true;
    }
    if (!equals && *at + 1 >= argc) {
        vs_cli_fail(VS_EXIT_USAGE, "%s: --%s: needs a value %s", name, option->name, option->value);
        return false;
    }
    args->value[place] = equals ? equals + 1 : argv[++*at];
    return true;
}

static bool take_operand(vs_cli_args *args, const char *word) {
    if (args->operand_count == args->command->operand_max) {
        vs_cli_fail(VS_EXIT_USAGE, "%s: one word too many: %s", args->command->name, word);
        return false;
    }
    args->operand[args->operand_count++] = word;
    return true;
}

static vs_exit print_version(void) {
    vs_text out;
    vs_text_init(&out);
    vs_text_addf(&out, "veilstop %s\n", VS_VERSION);
    vs_exit status = vs_cli_print(&out, VS_EXIT_DONE);
    vs_text_free(&out);
    return status;
}

static vs_exit run_command(const vs_cli_command *command, int argc, char **argv) {
    vs_cli_args args = {.command = command};
    bool options_end = false;
    for (int i = 2; i < argc; i++) {
        if (!options_end && (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0)) {
            return print_command_help(command);
        }
        if (!options_end && strcmp(argv[i], "--version") == 0) {
            return print_version();
        }
        if (!options_end && strcmp(argv[i], "--") == 0) {
            options_end = true;
            continue;
        }
        bool is_option = !options_end && strncmp(argv[i], "--", 2) == 0;
        if (!(is_option ? take_option(&args, argc, argv, &i) : take_operand(&args, argv[i]))) {
            return VS_EXIT_USAGE;
        }
    }
    if (args.operand_count < command->operand_min) {
        return vs_cli_fail(VS_EXIT_USAGE, "%s: needs %s; try: veilstop %s --help", command->name,
                           command->operands, command->name);
    }
    return vs_cli_outputs_apart(&args) ? command->run(&args) : VS_EXIT_USAGE;
}

int main(int argc, char **argv) {
    vs_numerics_handler_off();
    signal(SIGXFSZ, SIG_IGN); /* a file that grows too long is a write that fails, told as such */
    if (argc < 2) {
        return vs_cli_fail(VS_EXIT_USAGE, "needs a command; try: veilstop --help");
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0 ||
        strcmp(argv[1], "help") == 0) {
        return print_help();
    }
    if (strcmp(argv[1], "--version") == 0) {
        return print_version();
    }
    for (size_t i = 0; i < vs_cli_command_count; i++) {
        if (strcmp(argv[1], vs_cli_commands[i]->name) == 0) {
            return run_command(vs_cli_commands[i], argc, argv);
        }
    }
    return vs_cli_fail(VS_EXIT_USAGE, "unknown command %s; try: veilstop --help", argv[1]);
}
