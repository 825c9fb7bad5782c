/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Names in messages: one line, nothing that controls a terminal, whatever bytes they contain. */
#include <string.h>

#include "check.h"
#include "veilstop/base/error.h"
#include "veilstop/base/utf8.h"

static void becomes(const char *text, const char *want) {
    char out[64];
    CHECK_TRUE(vs_utf8_escape(text, out, sizeof out) == strlen(want));
    assert_string_equal(out, want);
    CHECK_TRUE(vs_utf8_escape(text, NULL, 0) == strlen(want));
}

static void what_breaks_a_line_is_written_out(void **state) {
    (void)state;
    becomes("plain text", "plain text");
    becomes("two\nlines\r\tend", "two\\nlines\\r\\tend");
    becomes("\x1b[31mred\x07\x7f", "\\x1b[31mred\\x07\\x7f");
    becomes("K\xc3\xbchl \xe2\x82\xac \xf0\x9f\x8e\xa5",
            "K\xc3\xbchl \xe2\x82\xac \xf0\x9f\x8e\xa5"); /* RFC 3629: 2, 3, 4 bytes */
    becomes("\xc2\x9b"
            "1m",
            "\\x9b1m"); /* U+009B, a terminal's CSI in one character (ECMA-48) */
    becomes("\xc2\xa0", "\xc2\xa0");
    becomes("a\xff\xc3", "a\\xff\\xc3");
    becomes("\xc0\xaf", "\\xc0\\xaf"); /* an overlong slash */
}

static void a_cut_leaves_whole_characters(void **state) {
    (void)state;
    char out[6];
    CHECK_TRUE(vs_utf8_escape("abcd\xc3\xbc"
                              "e",
                              out, sizeof out) == 7);
    assert_string_equal(out, "abcd");
    CHECK_TRUE(vs_utf8_escape("abcd\n", out, sizeof out) == 6);
    assert_string_equal(out, "abcd");
    CHECK_TRUE(vs_utf8_escape("abcde", out, sizeof out) == 5);
    assert_string_equal(out, "abcde");
}

static void a_fault_stays_on_its_line(void **state) {
    (void)state;
    vs_faults faults = {0};
    vs_faults_add(&faults, "/a\nb", "must be known (got %s)", "x\ny");
    assert_string_equal(faults.item[0].where, "/a\\nb");
    assert_string_equal(faults.item[0].text, "must be known (got x\\ny)");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_breaks_a_line_is_written_out),
        cmocka_unit_test(a_cut_leaves_whole_characters),
        cmocka_unit_test(a_fault_stays_on_its_line),
    };
    return RUN_TESTS(tests);
}
