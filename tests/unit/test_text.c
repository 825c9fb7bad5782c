/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Text that grows. Its empty ends: what C leaves undefined there only the sanitized build notices. */
#include "check.h"
#include "veilstop/light/colour.h"
#include "veilstop/report/text.h"
#include "veilstop/report/words.h"

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

static void says_of_a_tint(vs_bands tint, double white_kelvin, const char *words) {
    vs_text text;
    vs_text_init(&text);
    vs_report_colour(&text, tint, white_kelvin);
    assert_string_equal(vs_text_words(&text, &text), words);
    vs_text_free(&text);
}

/* A shift under 5 mired has no name (the least that is noticed, from memory of Judd): sodium light
 * and a blue dusk together were called "cool, like light of 4000 K on a camera set to 4000 K". */
static void a_shift_that_is_not_noticed_has_no_name(void **state) {
    (void)state;
    const double white = 4000; /* [K] */
    vs_bands tint;
    CHECK_OK(vs_colour_tint(1e6 / (1e6 / white - 4), white, &tint));
    says_of_a_tint(tint, white, "");
    tint.v[VS_BAND_GREEN] *= 0.85; /* a fifth of a stop */
    says_of_a_tint(tint, white, "magenta, neither warm nor cool on a camera set to 4000 K");
    tint.v[VS_BAND_GREEN] /= 0.85 * 0.85;
    says_of_a_tint(tint, white, "greenish, neither warm nor cool on a camera set to 4000 K");
    CHECK_OK(vs_colour_tint(1e6 / (1e6 / white + 6), white, &tint));
    says_of_a_tint(tint, white, "slightly warm, like light of 3900 K on a camera set to 4000 K");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_bytes_are_added_from_nowhere),
        cmocka_unit_test(a_shift_that_is_not_noticed_has_no_name),
    };
    return RUN_TESTS(tests);
}
