/* SPDX-License-Identifier: GPL-3.0-or-later */
/* scene/edit: the right bytes change, and no other. */
#include "check.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/scene/edit.h"

static void becomes(const char *before, const char *pointer, double value, const char *want) {
    vs_scene_edit edit = {pointer, value};
    char *out;
    size_t length;
    CHECK_OK(vs_scene_edit_numbers(before, strlen(before), &edit, 1, &out, &length));
    if (length != strlen(want) || strcmp(out, want) != 0) {
        fail_msg("%s: got %s, want %s", pointer, out, want);
    }
    free(out);
}

static void refused(const char *before, const char *pointer, double value, vs_status want) {
    vs_scene_edit edit = {pointer, value};
    char *out;
    size_t length;
    CHECK_STATUS(vs_scene_edit_numbers(before, strlen(before), &edit, 1, &out, &length), want);
    CHECK_TRUE(out == NULL && length == 0);
}

static void a_number_is_replaced(void **state) {
    (void)state;
    becomes("{ \"a\" : 1.50 , \"b\":2 }", "/a", 0.25, "{ \"a\" : 0.25 , \"b\":2 }");
    becomes("{\"r\":[{\"x\":1},{\"x\":2}\n]}", "/r/1/x", -3e-7,
            "{\"r\":[{\"x\":1},{\"x\":-3e-07}\n]}");
    becomes("[1, 2,\t3]", "/2", 7, "[1, 2,\t7]");
    becomes("\xef\xbb\xbf{\"a\":1}\n", "/a", 123456.7, "\xef\xbb\xbf{\"a\":123457}\n");
}

static void what_looks_like_it_is_left_alone(void **state) {
    (void)state;
    becomes("{\"note\":\"\\\"a\\\": 1 } ] {\", \"b\":{\"a\":9}, \"a\":1}", "/a", 2,
            "{\"note\":\"\\\"a\\\": 1 } ] {\", \"b\":{\"a\":9}, \"a\":2}");
    becomes("{\"aa\":1,\"a\":[[],{}],\"ab\":3}", "/ab", 4, "{\"aa\":1,\"a\":[[],{}],\"ab\":4}");
    becomes("{\"x/y\":{\"~\":1}}", "/x~1y/~0", 2, "{\"x/y\":{\"~\":2}}");
}

static void a_new_key_goes_behind_the_last(void **state) {
    (void)state;
    becomes("{\"h\": { \"a\": 1\n } }", "/h/b", 2, "{\"h\": { \"a\": 1, \"b\": 2\n } }");
    becomes("{\"h\": {} }", "/h/b", 2.5, "{\"h\": {\"b\": 2.5} }");
}

/* A key is recognised by its meaning, however the file escapes it (RFC 8259, 7 and 8.3). */
static void keys_with_escapes(void **state) {
    (void)state;
    becomes("{\"\\u0061\":1}", "/a", 2, "{\"\\u0061\":2}");
    becomes("{\"r\\u006foms\":[{\"\\u0061b\":1}]}", "/rooms/0/ab", 2,
            "{\"r\\u006foms\":[{\"\\u0061b\":2}]}");
    becomes("{\"a\\\"b\":1,\"c\\\\d\":2,\"e\\/f\":3,\"g\\th\":4}", "/a\"b", 9,
            "{\"a\\\"b\":9,\"c\\\\d\":2,\"e\\/f\":3,\"g\\th\":4}");
    becomes("{\"a\\\"b\":1,\"c\\\\d\":2}", "/c\\d", 9, "{\"a\\\"b\":1,\"c\\\\d\":9}");
    becomes("{\"e\\/f\":3,\"g\\th\":4}", "/e~1f", 9, "{\"e\\/f\":9,\"g\\th\":4}");
    becomes("{\"e\\/f\":3,\"g\\th\":4}", "/g\th", 9, "{\"e\\/f\":3,\"g\\th\":9}");
    becomes("{\"\\u00fc\\u20AC\\ud83c\\uDFA5\":1}", "/\xc3\xbc\xe2\x82\xac\xf0\x9f\x8e\xa5", 2,
            "{\"\\u00fc\\u20AC\\ud83c\\uDFA5\":2}");
    /* one that only looks alike is different */
    becomes("{\"u0061\":1}", "/a", 2, "{\"u0061\":1, \"a\": 2}");
    becomes("{}", "/a~1b\"~0", 2, "{\"a/b\\\"~\": 2}");
}

static void pointers_that_lead_nowhere(void **state) {
    (void)state;
    refused("{\"a\":1}", "/b/c", 1, VS_ERR_INPUT);
    refused("{\"a\":1}", "/a/c", 1, VS_ERR_INPUT);
    refused("[1]", "/4", 1, VS_ERR_INPUT);
    refused("{\"a\":1}", "", 1, VS_ERR_INPUT);
    refused("{\"a\":1}", "a", 1, VS_ERR_INPUT);
    refused("{\"a\":1}", "/a", INFINITY, VS_ERR_DOMAIN);
    refused("", "/a", 1, VS_ERR_INPUT);
}

static void several_at_once(void **state) {
    (void)state;
    const char *before = "{\"a\":1,\"b\":{\"c\":2}}";
    vs_scene_edit edit[] = {{"/a", 10}, {"/b/c", 20}, {"/b/d", 30}};
    char *out;
    size_t length;
    CHECK_OK(vs_scene_edit_numbers(before, strlen(before), edit, 3, &out, &length));
    CHECK_TRUE(strcmp(out, "{\"a\":10,\"b\":{\"c\":20, \"d\": 30}}") == 0);
    free(out);
    edit[1].pointer = "/nowhere/at/all";
    CHECK_STATUS(vs_scene_edit_numbers(before, strlen(before), edit, 3, &out, &length),
                 VS_ERR_INPUT);
    CHECK_TRUE(out == NULL);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_number_is_replaced),
        cmocka_unit_test(what_looks_like_it_is_left_alone),
        cmocka_unit_test(a_new_key_goes_behind_the_last),
        cmocka_unit_test(keys_with_escapes),
        cmocka_unit_test(pointers_that_lead_nowhere),
        cmocka_unit_test(several_at_once),
    };
    return RUN_TESTS(tests);
}
