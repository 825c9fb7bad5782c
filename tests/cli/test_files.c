/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The files that a command line names: which are refused, with which status and in which words.
 * Each test has a scratch folder of its own. */
#include "check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "frame.h"
#include "program.h"

#define PROGRAM "timeout 120 \"$VS_PROGRAM\" "

/* Runs a command in the scratch folder. want_err: the whole of standard error; NULL: any. */
static void expect(const char *command, int status, const char *want_err) {
    program_run_result run = program_run_shell(".", command);
    if (run.status != status || (want_err && strcmp(run.err, want_err) != 0)) {
        fail_msg("%s\nstatus %d, want %d\nerr:  %swant: %s", command, run.status, status, run.err,
                 want_err ? want_err : "anything\n");
    }
    program_free(&run);
}

/* A copy of the demo to damage: demo/cellar.json with its photometry, and a folder of our data. */
static int copy_demo(void **state) {
    (void)state;
    expect("rm -rf demo own; mkdir demo && cp \"$VS_TESTS\"/../data/demo/* demo && "
           "cp -r \"$VS_TESTS\"/../data own && rm -r own/demo",
           0, "");
    frame_write("clear.png", FRAME_WIDTH, 1, 0);
    frame_write("hazed.png", FRAME_WIDTH, 0.7, 0.03);
    return 0;
}

#define GRADE PROGRAM "grade demo/cellar.json --shot '4 down the passage' "
#define PAIR  PROGRAM "pair clear.png hazed.png "

static void two_outputs_are_two_files(void **state) {
    (void)state;
    static const char one[] = "veilstop: --clf: must be another file than --cdl writes\n";
    expect(GRADE "--cdl a --clf a", 2, one);
    expect(GRADE "--cdl a --clf ./a", 2, one);
    expect(GRADE "--cdl a --clf demo/../a", 2, one);
    expect("touch a && ln -s a b && " GRADE "--cdl a --clf b", 2, one);
    expect("rm b && ln a b && " GRADE "--cdl a --clf b", 2, one);
    expect("rm a b; " GRADE "--cdl a --clf demo/a >out && rm a demo/a out", 0, "");
    expect(GRADE "--cdl a >a", 2, "veilstop: --cdl: must be another file than standard output\n");
    expect("rm a", 0, "");
}

static void an_output_is_no_input(void **state) {
    (void)state;
    expect("ln clear.png c && " PAIR "--cdl c; code=$?; rm c; exit $code", 2,
           "veilstop: --cdl: must be another file than clear.png, which is read\n");
    expect("ln -s hazed.png c && " PAIR "--map c; code=$?; rm c; exit $code", 2,
           "veilstop: --map: must be another file than hazed.png, which is read\n");
    expect(
        PROGRAM "predict demo/cellar.json >>demo/cellar.json", 2,
        "veilstop: standard output: must be another file than demo/cellar.json, which is read\n");
    static const char figures[] =
        "veilstop: --cdl: must be another file than those that the scene reads\n";
    expect(GRADE "--cdl demo/bulkhead.ies", 2, figures);
    expect("ln -s demo/bulkhead.ies b && " GRADE "--cdl b; code=$?; rm b; exit $code", 2, figures);
    expect(GRADE "--data own --cdl own/fluids/glycol.json", 2, figures);
    expect(GRADE "--data own --cdl own/limits.json", 2, figures);
    expect("cmp demo/bulkhead.ies \"$VS_TESTS\"/../data/demo/bulkhead.ies", 0, "");
}

static void what_is_no_file_is_not_read(void **state) {
    (void)state;
    expect("mkfifo pipe; " PROGRAM "predict pipe", 4,
           "veilstop: pipe: must be a file that can be read (got: a pipe)\n");
    expect(PROGRAM "predict demo", 4,
           "veilstop: demo: must be a file that can be read (got: a folder)\n");
    expect(PROGRAM "predict /dev/zero", 4,
           "veilstop: /dev/zero: must be a file that can be read (got: a device)\n");
    expect(PROGRAM "fluid ./pipe", 4,
           "veilstop: ./pipe: must be a file that can be read (got: a pipe)\n");
    expect(PROGRAM "pair clear.png pipe", 4,
           "veilstop: pipe: must be a file that can be read (got: a pipe)\n");
    expect(GRADE "--cdl pipe", 4,
           "veilstop: pipe: must be a file that can be written (got: a pipe)\n");
    expect(GRADE "--cdl demo", 4,
           "veilstop: demo: must be a file that can be written (got: a folder)\n");
    expect(GRADE "--cdl /dev/full", 4,
           "veilstop: /dev/full: must be a file that can be written (got: a device)\n");
    expect("rm pipe", 0, "");
}

static void whichever_file_cannot_be_read_is_status_4(void **state) {
    (void)state;
    expect("mv demo/bulkhead.ies demo/b; " PROGRAM "predict demo/cellar.json", 4, NULL);
    expect("mkfifo demo/bulkhead.ies; " PROGRAM "predict demo/cellar.json", 4, NULL);
    expect("mv demo/b demo/bulkhead.ies", 0, "");
    expect(PROGRAM "predict demo/cellar.json --data none", 4, NULL);
    static const char *const name[] = {"limits", "detectors", "notices", "fluids/glycol"};
    for (size_t i = 0; i < sizeof name / sizeof name[0]; i++) {
        char command[512];
        snprintf(command, sizeof command,
                 "mv own/%s.json kept; mkfifo own/%s.json; " PROGRAM
                 "predict demo/cellar.json --data own",
                 name[i], name[i]);
        expect(command, 4, NULL);
        snprintf(command, sizeof command,
                 "rm own/%s.json; ln -s gone own/%s.json; " PROGRAM
                 "predict demo/cellar.json --data own",
                 name[i], name[i]);
        expect(command, 4, NULL);
        snprintf(command, sizeof command,
                 "rm own/%s.json; " PROGRAM
                 "predict demo/cellar.json --data own >out && exit 9; code=$?; rm out; mv kept "
                 "own/%s.json; exit $code",
                 name[i], name[i]);
        expect(command, 1, ""); /* one that is not there is ours */
    }
}

static void a_written_file_keeps_what_it_was(void **state) {
    (void)state;
    expect("echo old >a; chmod 604 a; " GRADE
           "--cdl a >out && stat -c %a a >out && grep -qx 604 out",
           0, "");
    expect("chmod 400 a; cp a b; " GRADE "--cdl a", 4,
           "veilstop: a: must be a file that can be written (got: Permission denied)\n");
    expect("cmp a b && rm -f a b out", 0, "");
    expect("echo old >a; ln a b; " GRADE "--cdl a", 4,
           "veilstop: a: must be a file that can be written (got: a file of several names, hard "
           "links, of which only this one would change)\n");
    expect("grep -qx old a && rm a b", 0, "");
}

static void a_name_stays_on_its_line(void **state) {
    (void)state;
    expect(PROGRAM "predict \"$(printf 'no\\nsuch\\033[31m.json')\"", 4,
           "veilstop: no\\nsuch\\x1b[31m.json: must be a file that can be read (got: No such file "
           "or directory)\n");
    expect(PROGRAM "predict demo/cellar.json --shot \"$(printf 'a\\nb')\"", 2,
           "veilstop: --shot: demo/cellar.json has no shot named a\\nb\n");
    expect("cp demo/cellar.json \"$(printf 'demo/x\\ny')\"; " PROGRAM
           "predict \"$(printf 'demo/x\\ny')\" --shot none",
           2, "veilstop: --shot: demo/x\\ny has no shot named none\n");
    /* in an answer too, where the file's name stands for a title */
    expect("sed -i '/\"title\"/d' \"$(printf 'demo/x\\ny')\"; " PROGRAM
           "dwell \"$(printf 'demo/x\\ny')\" >out; head -n 1 out | grep -qxF 'demo/x\\ny'",
           0, "");
    expect("cp clear.png \"$(printf 'c\\nd')\"; " PROGRAM
           "pair \"$(printf 'c\\nd')\" clear.png >out; head -n 1 out | grep -q '^c.nd and clear'",
           0, "");
    expect(GRADE "--cdl \"$(printf 'e\\nf')\" >out; grep -qF 'wrote e\\nf, the CDL' out", 0, "");
}

/* A file that is opened must not take the number of a stream that was closed before the program began,
 * and with it what belongs there. */
static void a_file_is_whole_where_streams_are_closed(void **state) {
    (void)state;
    static const struct {
        const char *streams;
        int status;
        const char *err;
    } closed[] = {{">&-", 4, "veilstop: standard output: Bad file descriptor\n"},
                  {"<&- >&-", 4, "veilstop: standard output: Bad file descriptor\n"},
                  {"2>&- >out", 0, ""},
                  {"<&- >&- 2>&-", 4, ""}};
    expect(GRADE "--cdl a >out", 0, "");
    for (size_t i = 0; i < sizeof closed / sizeof closed[0]; i++) {
        char command[256];
        snprintf(command, sizeof command, GRADE "--cdl b %s", closed[i].streams);
        expect(command, closed[i].status, closed[i].err);
        expect("cmp a b && rm b", 0, "");
    }
    expect("rm a out", 0, "");
}

static int clear_up(void **state) {
    (void)state;
    expect("rm -rf demo own out clear.png hazed.png ./c* ./e*", 0, "");
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_outputs_are_two_files),
        cmocka_unit_test(an_output_is_no_input),
        cmocka_unit_test(what_is_no_file_is_not_read),
        cmocka_unit_test(whichever_file_cannot_be_read_is_status_4),
        cmocka_unit_test(a_written_file_keeps_what_it_was),
        cmocka_unit_test(a_name_stays_on_its_line),
        cmocka_unit_test(a_file_is_whole_where_streams_are_closed),
    };
    tests_begin();
    return cmocka_run_group_tests(tests, copy_demo, clear_up);
}
