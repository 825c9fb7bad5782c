/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The answers use the words of docs/words.md: everything in the head of a table is explained there,
 * and nothing it rules out is used. Heads are recognised by their colour, so the program runs on a
 * terminal of its own. The page is the reference; no outside source. */
#include "check.h"

#include <ctype.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "frame.h"
#include "program.h"
#include "terminal.h"

#define HEAD_INK  "\033[2m" /* how style.c begins the head of a table */
#define PLAIN_INK "\033[0m"

/* Every table, on the demo's scenes. */
static const char *const command[] = {
    "predict data/demo/cellar.json",
    "predict data/demo/washroom.json",
    "predict data/demo/yard.json --haze thin,heavy",
    "choose data/demo/cellar.json --spread --samples 16",
    "choose data/demo/cellar.json --turn 'hand lamp' --units ft",
    "dwell data/demo/cellar.json",
    "dwell data/demo/washroom.json",
    "grade data/demo/cellar.json --best",
    "grade data/demo/cellar.json --shot '1 wide'",
    "trust data/demo/cellar.json --shot '1 wide' --paths 200",
    "cautions data/demo/cellar.json",
    "reading tests/cli/reading/plan.json",
    "reading tests/cli/reading/decay.json --units ft",
    "reading --distance 8m --clear 80,2.4 --hazed 66,9.1",
    "fluid glycol",
    "picture data/demo/cellar.json --shot '1 wide' --haze thin,heavy --size 64x36 --out "
    "\"$HERE/words.png\"",
    "pair \"$HERE/words-clear.png\" \"$HERE/words-hazed.png\"",
};
enum { COMMANDS = sizeof command / sizeof command[0] };

static void set_here(void) {
    char here[4096];
    CHECK_TRUE(getcwd(here, sizeof here) != NULL);
    setenv("HERE", here, 1);
    frame_write("words-clear.png", FRAME_WIDTH, 1, 0);
    frame_write("words-hazed.png", FRAME_WIDTH, 0.7, 0.03);
}

/* ---- words not used ---- */

static bool is_of_a_word(char c) {
    return isalnum((unsigned char)c) || c == '_' || c == '-' || c == '/';
}

/* The first occurrence of a phrase as whole words, ignoring case; NULL: none. */
static const char *find_phrase(const char *text, const char *phrase) {
    size_t length = strlen(phrase);
    for (const char *at = text; *at; at++) {
        size_t i = 0;
        while (i < length && tolower((unsigned char)at[i]) == phrase[i]) {
            i++;
        }
        if (i == length && (at == text || !is_of_a_word(at[-1])) && !is_of_a_word(at[length])) {
            return at;
        }
    }
    return NULL;
}

/* The first cells of the table under "## Not said", each ended; *count of them. */
static void take_not_said(char *page, char *phrase[64], size_t *count) {
    char *line = strstr(page, "\n## Not said");
    CHECK_TRUE(line != NULL);
    const char *next = strstr(line + 1, "\n## "); /* the words of the code are another matter */
    *count = 0;
    for (line = strstr(line, "\n| --- "); line && (line = strstr(line + 1, "\n| "));) {
        if (next && line > next) {
            break;
        }
        char *end = strstr(line + 3, " | ");
        CHECK_TRUE(end && *count < 64);
        phrase[(*count)++] = line + 3;
        *end = '\0';
        line = end + 1;
    }
}

static size_t count_said(const char *where, const char *text, char *const *phrase, size_t count) {
    size_t said = 0;
    for (size_t i = 0; i < count; i++) {
        const char *at = find_phrase(text, phrase[i]);
        if (at) {
            print_error("%s: says \"%s\": ...%.60s\n", where, phrase[i], at);
            said++;
        }
    }
    return said;
}

/* ---- heads of tables ---- */

/* Whether a word is in one of the first two columns of a table of "Words on a set". */
static bool is_explained(const char *page, const char *word) {
    const char *end = strstr(page, "\n## Not said");
    for (const char *line = strstr(page, "\n## Words on a set");
         (line = strstr(line + 1, "\n| "));) {
        char cells[512];
        const char *second = line < end ? strstr(line + 3, "|") : NULL;
        const char *third = second ? strstr(second + 1, "|") : NULL;
        if (!third) {
            return false;
        }
        snprintf(cells, sizeof cells, "%.*s", (int)(third - line), line);
        if (find_phrase(cells, word)) {
            return true;
        }
    }
    return false;
}

/* The demo's own names, which appear in heads. */
static bool is_a_name(const char *word) {
    static const char *const name[] = {"cellar", "passage", "loading", "bay", "hand", "lamp"};
    for (size_t i = 0; i < sizeof name / sizeof name[0]; i++) {
        if (strcmp(word, name[i]) == 0) {
            return true;
        }
    }
    return false;
}

static size_t count_unexplained(const char *page, const char *where, char *head) {
    size_t unexplained = 0;
    for (char *word = strtok(head, " \r\n,"); word; word = strtok(NULL, " \r\n,")) {
        bool figure = strspn(word, "0123456789") == strlen(word);
        for (char *c = word; *c; c++) {
            *c = (char)tolower((unsigned char)*c);
        }
        if (!figure && !is_a_name(word) && !is_explained(page, word)) {
            print_error("%s: \"%s\" in the head of a table, not in docs/words.md\n", where, word);
            unexplained++;
        }
    }
    return unexplained;
}

/* The heads in the terminal's output. */
static size_t check_heads(const char *page, const char *where, const char *out,
                          size_t *unexplained) {
    size_t heads = 0;
    for (const char *at = out; (at = strstr(at, HEAD_INK)); heads++) {
        char head[512];
        const char *end = strstr(at += strlen(HEAD_INK), PLAIN_INK);
        CHECK_TRUE(end && (size_t)(end - at) < sizeof head);
        snprintf(head, sizeof head, "%.*s", (int)(end - at), at);
        *unexplained += count_unexplained(page, where, head);
    }
    return heads;
}

/* Removes the colour codes from a text. */
static void wash(char *text) {
    char *to = text;
    for (const char *from = text; *from; from++) {
        if (*from == '\033') {
            from += strcspn(from, "m");
        } else {
            *to++ = *from;
        }
    }
    *to = '\0';
}

static void answers_speak_by_the_page(void **state) {
    (void)state;
    char *page = tests_file("../docs/words.md", NULL);
    char *words = tests_file("../docs/words.md", NULL), *phrase[64];
    size_t count, heads = 0, unexplained = 0, said = 0;
    take_not_said(words, phrase, &count);
    CHECK_TRUE(count > 15);
    set_here();
    for (size_t i = 0; i < COMMANDS; i++) {
        int status;
        char shell[512];
        snprintf(shell, sizeof shell, "\"$VS_PROGRAM\" %s", command[i]);
        char *out = terminal_run(shell, 1, &status);
        CHECK_TRUE(status <= 1);
        heads += check_heads(page, command[i], out, &unexplained);
        wash(out);
        CHECK_TRUE(strlen(out) > 100);
        said += count_said(command[i], out, phrase, count);
        free(out);
    }
    CHECK_TRUE(heads > 20 && unexplained == 0 && said == 0);
    free(words);
    free(page);
}

static void help_and_readme_speak_by_the_page(void **state) {
    (void)state;
    char *words = tests_file("../docs/words.md", NULL), *phrase[64];
    char *readme = tests_file("../README.md", NULL);
    size_t count, said = 0, helped = 0;
    take_not_said(words, phrase, &count);
    program_run_result all = program_run_shell(NULL, "\"$VS_PROGRAM\" help");
    said += count_said("help", all.out, phrase, count);
    for (const char *line = all.out; (line = strstr(line, "\n  ")); line += 3) {
        char shell[64];
        snprintf(shell, sizeof shell, "\"$VS_PROGRAM\" help %.*s", (int)strcspn(line + 3, " "),
                 line + 3);
        program_run_result run = program_run_shell(NULL, shell);
        CHECK_TRUE(run.status == 0 && run.out_length > 100);
        said += count_said(shell, run.out, phrase, count);
        program_free(&run);
        helped++;
    }
    program_free(&all);
    CHECK_TRUE(helped >= 10);
    said += count_said("README.md", readme, phrase, count);
    CHECK_TRUE(said == 0);
    free(words);
    free(readme);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(answers_speak_by_the_page),
        cmocka_unit_test(help_and_readme_speak_by_the_page),
    };
    return RUN_TESTS(tests);
}
