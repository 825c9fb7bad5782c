/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See program.h. */
#include "program.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "check.h"
#include "veilstop/report/style.h"

static char *slurp_and_remove(const char *path, size_t *length) {
    char *text = file_read(path, length);
    remove(path);
    if (!text) {
        fail_msg("cannot read back %s", path);
    }
    return text;
}

static void child(const char *directory, const char *out, const char *err, char *const *words) {
    int in_file = open("/dev/null", O_RDONLY);
    int out_file = open(out, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    int err_file = open(err, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    dup2(in_file, 0);
    dup2(out_file, 1);
    dup2(err_file, 2);
    unsetenv("NO_COLOR");
    setenv("LC_ALL", "C", 1);
    if (chdir(directory) == 0) {
        execvp(words[0], words);
    }
    _exit(127);
}

static program_run_result run_words(const char *directory, char *const *words) {
    char root[TESTS_PATH_SIZE], out[64], err[64];
    tests_path(root, "..");
    snprintf(out, sizeof out, "run-%ld.out", (long)getpid());
    snprintf(err, sizeof err, "run-%ld.err", (long)getpid());
    fflush(NULL);
    pid_t pid = fork();
    if (pid == 0) {
        child(directory ? directory : root, out, err, words);
    }
    int status = 0;
    if (pid < 0 || waitpid(pid, &status, 0) < 0) {
        fail_msg("cannot run %s: %s", words[0], strerror(errno));
    }
    program_run_result run = {0};
    run.status = WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
    run.out = slurp_and_remove(out, &run.out_length);
    run.err = slurp_and_remove(err, NULL);
    return run;
}

static char *program_path(void) {
    char *program = getenv("VS_PROGRAM");
    if (!program) {
        fail_msg("VS_PROGRAM is not set: run the tests with make");
    }
    return program;
}

program_run_result program_run(const char *directory, const char *const *words) {
    const char *argv[32] = {program_path()};
    size_t count = 1;
    for (; words[count - 1] && count < 31; count++) {
        argv[count] = words[count - 1];
    }
    argv[count] = NULL;
    union {
        const char *const *in;
        char *const *out;
    } cast = {argv}; /* execvp does not write, but its type says so */
    return run_words(directory, cast.out);
}

program_run_result program_run_shell(const char *directory, const char *command) {
    char shell[] = "sh", option[] = "-c", text[4096];
    program_path();
    snprintf(text, sizeof text, "%s", command);
    char *words[] = {shell, option, text, NULL};
    return run_words(directory, words);
}

void program_free(program_run_result *run) {
    free(run->out);
    free(run->err);
    run->out = run->err = NULL;
}

void program_expect(const char *command, int status, const char *in_out, const char *in_err) {
    program_run_result run = program_run_shell(NULL, command);
    if (run.status != status || (in_out && !strstr(run.out, in_out)) ||
        (in_err && !strstr(run.err, in_err))) {
        print_error("%s\nstatus %d, want %d\nout: %.600s\nerr: %.600s\n", command, run.status,
                    status, run.out, run.err);
        fail();
    }
    program_free(&run);
}

void program_expect_here(const char *command, int status, const char *in_out, const char *in_err) {
    program_run_result run = program_run_shell(".", command);
    const char *end = strchr(run.err, '\n');
    bool one_line = end && !strchr(end + 1, '\n');
    if (run.status != status || (in_out && !strstr(run.out, in_out)) ||
        (in_err && !strstr(run.err, in_err)) || !(status == 0 || one_line)) {
        fail_msg("%s\nended with %d, wanted %d\n%s\n%s", command, run.status, status, run.out,
                 run.err);
    }
    program_free(&run);
}

void program_check_lines(const char *text) {
    while (*text) {
        size_t length = strcspn(text, "\n");
        char line[4096];
        CHECK_TRUE(length < sizeof line);
        snprintf(line, sizeof line, "%.*s", (int)length, text);
        CHECK_TRUE(vs_text_columns(line) <= VS_REPORT_COLUMNS);
        CHECK_TRUE(!strstr(line, "safe"));
        text += length + (text[length] == '\n');
    }
}

double program_number_after(const char *text, const char *key) {
    const char *at = strstr(text, key);
    if (!at) {
        fail_msg("no %s in %s", key, text);
        return NAN;
    }
    return strtod(at + strlen(key), NULL);
}

void program_three_after(const char *text, const char *key, double out[3]) {
    const char *at = text ? strstr(text, key) : NULL;
    CHECK_TRUE(at != NULL);
    at += strlen(key);
    for (int i = 0; i < 3; i++) {
        char *end;
        out[i] = strtod(at, &end);
        CHECK_TRUE(end != at);
        at = end + 1;
    }
}

/* The number at the start of a text; 0 characters where there is none. */
static size_t number_at(const char *text, double *value) {
    size_t sign = *text == '-' || *text == '+';
    if (!strchr("0123456789", text[sign]) || !text[sign]) {
        return 0;
    }
    char *end;
    *value = strtod(text, &end);
    return (size_t)(end - text);
}

bool program_text_agrees(const char *got, const char *want, double relative, double absolute,
                         size_t *line) {
    *line = 1;
    while (*got || *want) {
        double a = 0, b = 0;
        size_t length_a = number_at(got, &a), length_b = number_at(want, &b);
        if (length_a && length_b) {
            if (!(fabs(a - b) <= absolute + relative * fabs(b))) {
                return false;
            }
            got += length_a;
            want += length_b;
            continue;
        }
        if (*got != *want) {
            /* blanks before a figure that is one digit longer or shorter */
            if (*got == ' ' || *want == ' ') {
                got += *got == ' ';
                want += *want == ' ';
                continue;
            }
            return false;
        }
        *line += *got == '\n';
        got++;
        want++;
    }
    return true;
}

static char *told(const program_run_result *run) {
    size_t size = strlen(run->out) + strlen(run->err) + 64;
    char *text = malloc(size);
    snprintf(text, size, "%s%s%sexit %d\n", run->out, *run->err ? "stderr:\n" : "", run->err,
             run->status);
    return text;
}

/* One case; true if it agrees. */
static bool check_case(const char *command_path, double relative, double absolute) {
    char out_path[1024], command[4096];
    char *line = file_read(command_path, NULL);
    line[strcspn(line, "\n")] = '\0';
    snprintf(command, sizeof command, "\"$VS_PROGRAM\" %s", line);
    program_run_result run = program_run_shell(NULL, command);
    char *got = told(&run);
    snprintf(out_path, sizeof out_path, "%.*s.out", (int)(strlen(command_path) - 4), command_path);
    const char *renew = getenv("VS_RENEW");
    if (renew && *renew == '1') {
        FILE *file = fopen(out_path, "wb");
        fputs(got, file);
        fclose(file);
    }
    char *want = file_read(out_path, NULL);
    size_t at = 0;
    bool agrees = want && program_text_agrees(got, want, relative, absolute, &at);
    if (!agrees) {
        print_error("%s: differs from its golden at line %zu; it gave:\n%s\n", command_path, at,
                    got);
    }
    free(want);
    free(got);
    free(line);
    program_free(&run);
    return agrees;
}

size_t program_check_goldens(const char *folder, size_t least, double relative, double absolute) {
    char name[512], path[TESTS_PATH_SIZE];
    size_t cases = 0, wrong = 0;
    snprintf(name, sizeof name, "cli/%s", folder);
    tests_path(path, name);
    DIR *directory = opendir(path);
    if (!directory) {
        fail_msg("cannot open %s", path);
    }
    for (struct dirent *entry; (entry = readdir(directory));) {
        size_t length = strlen(entry->d_name);
        if (length > 4 && strcmp(entry->d_name + length - 4, ".cmd") == 0) {
            snprintf(name, sizeof name, "cli/%s/%s", folder, entry->d_name);
            tests_path(path, name);
            cases++;
            wrong += !check_case(path, relative, absolute);
        }
    }
    closedir(directory);
    if (wrong > 0 || cases < least) {
        fail_msg("%s: %zu of %zu cases differ, at least %zu cases are wanted", folder, wrong, cases,
                 least);
    }
    return cases;
}
