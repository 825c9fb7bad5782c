/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Text that grows. Its empty ends: what C leaves undefined there only the sanitized build notices. */
#include "check.h"
#include "veilstop/report/text.h"

/* C11 7.24.1: a function that copies no bytes still needs a valid place to copy from. */
static void no_bytes_are_added_from_nowhere(void **state) {
    (void)state;
    vs_text empty, whole;
    vs_text_init(&empty);
    vs_text_init(&whole);
    vs_text_add(&whole, empty.bytes, empty.length);
    assert_false(whole.failed);
    assert_int_equal(whole.length, 0);
    assert_string_equal(whole.bytes, "");
    vs_text_add(&whole, "haze", 4);
    vs_text_add(&whole, empty.bytes, empty.length);
    assert_int_equal(whole.length, 4);
    assert_string_equal(whole.bytes, "haze");
    vs_text_free(&whole);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_bytes_are_added_from_nowhere),
    };
    return RUN_TESTS(tests);
}
