/* SPDX-License-Identifier: GPL-3.0-or-later */
/* veilstop COMMAND ...: finds the command, reads its options, runs it. */
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "cli/apart.h"
#include "cli/cli.h"
#include "cli/progress.h"
#include "veilstop/base/numerics.h"
#include "veilstop/scene/json.h"

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
                 "usage: veilstop COMMAND ... ; veilstop help COMMAND tells its options\n\n",
                 VS_VERSION);
    add_commands(&out);
    vs_text_addf(&out, "\n%s", caution);
    vs_exit status = vs_ask_print(&out, VS_EXIT_DONE);
    vs_text_free(&out);
    return status;
}

static vs_exit print_command_help(const vs_ask_command *command) {
    vs_text out;
    vs_text_init(&out);
    vs_text_addf(&out, "usage: veilstop %s %s [options]\n\n%s\n\n", command->name,
                 command->operands, command->summary);
    for (size_t i = 0; i < VS_ASK_OPTION_MAX && command->option[i].name; i++) {
        const vs_ask_option *o = &command->option[i];
        char form[64];
        snprintf(form, sizeof form, "--%s%s%s", o->name, o->value ? " " : "",
                 o->value ? o->value : "");
        vs_text_addf(&out, "  %-24s %s\n", form, o->help);
    }
    vs_text_addf(&out, "  %-24s %s\n\nexamples:\n", "--help", "this");
    for (size_t i = 0; i < sizeof command->example / sizeof command->example[0]; i++) {
        vs_text_addf(&out, "  veilstop %s\n", command->example[i]);
    }
    vs_text_addf(&out, "\n%s", caution);
    vs_exit status = vs_ask_print(&out, VS_EXIT_DONE);
    vs_text_free(&out);
    return status;
}

static vs_exit print_version(void) {
    vs_text out;
    vs_text_init(&out);
    vs_text_addf(&out, "veilstop %s\n", VS_VERSION);
    vs_exit status = vs_ask_print(&out, VS_EXIT_DONE);
    vs_text_free(&out);
    return status;
}

static vs_exit run_command(const vs_ask_command *command, int argc, const char *const *argv,
                           bool *csv) {
    vs_ask_args args = {.command = command};
    for (int i = 2; i < argc && strcmp(argv[i], "--") != 0; i++) {
        if (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0) {
            return print_command_help(command);
        }
        if (strcmp(argv[i], "--version") == 0) {
            return print_version();
        }
    }
    if (!vs_ask_args_read(&args, argv + 2) || !vs_cli_outputs_apart(&args)) {
        return VS_EXIT_USAGE;
    }
    vs_cli_progress_begin();
    vs_exit code = vs_ask_args_run(&args);
    *csv = vs_ask_value(&args, "csv") != NULL && !vs_ask_value(&args, "json");
    return code;
}

static const vs_ask_command *find_command(const char *name) {
    for (size_t i = 0; i < vs_cli_command_count; i++) {
        if (strcmp(name, vs_cli_commands[i]->name) == 0) {
            return vs_cli_commands[i];
        }
    }
    return NULL;
}

static vs_exit fail_command(const char *name) {
    const char *names[VS_ASK_OPTION_MAX * 2];
    size_t count = 0;
    while (count < vs_cli_command_count && count < sizeof names / sizeof names[0]) {
        names[count] = vs_cli_commands[count]->name;
        count++;
    }
    const char *near = vs_json_nearest(name, names, count);
    return vs_ask_fail(VS_EXIT_USAGE, "unknown command %s%s%s; try: veilstop --help", name,
                       near ? "; did you mean " : "", near ? near : "");
}

/* veilstop help [COMMAND] */
static vs_exit help(int argc, const char *const *argv) {
    if (argc > 3) {
        return vs_ask_fail(VS_EXIT_USAGE, "help: one word too many: %s", argv[3]);
    }
    if (argc == 2) {
        return print_help();
    }
    const vs_ask_command *command = find_command(argv[2]);
    return command ? print_command_help(command) : fail_command(argv[2]);
}

static vs_exit run(int argc, const char *const *argv, bool *csv) {
    if (argc < 2) {
        return vs_ask_fail(VS_EXIT_USAGE, "needs a command; try: veilstop --help");
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0) {
        return print_help();
    }
    if (strcmp(argv[1], "help") == 0) {
        return help(argc, argv);
    }
    if (strcmp(argv[1], "--version") == 0) {
        return print_version();
    }
    const vs_ask_command *command = find_command(argv[1]);
    return command ? run_command(command, argc, argv, csv) : fail_command(argv[1]);
}

int main(int argc, char **argv) {
    vs_ask_context context;
    bool csv = false;
    vs_numerics_handler_off();
    signal(SIGXFSZ, SIG_IGN); /* a file over the size limit is then reported as a failed write */
    vs_cli_begin(&context);
    vs_exit code = run(argc, (const char *const *)argv, &csv);
    return vs_cli_end(&context, csv, code);
}
