/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Strict JSON: what RFC 8259 allows is accepted, what it forbids is refused with its place;
 * pointers are those of RFC 6901; typed readers say what would be right. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/scene/json.h"

static vs_status parse(const char *text, vs_json_document *document, vs_faults *faults) {
    memset(faults, 0, sizeof *faults);
    return vs_json_document_init(document, text, strlen(text), faults);
}

static void check_fault(const vs_faults *faults, size_t index, const char *where,
                        const char *text) {
    CHECK_TRUE(index < faults->count);
    assert_string_equal(faults->item[index].where, where);
    assert_string_equal(faults->item[index].text, text);
}

/* The two objects of RFC 8259 section 13, the small texts of its section 13, and each production of
 * its grammar (sections 2 to 7) once. */
static void what_the_grammar_allows_passes(void **state) {
    (void)state;
    static const char *good[] = {
        "{\"Image\": {\"Width\": 800, \"Height\": 600, \"Title\": \"View from 15th Floor\", "
        "\"Thumbnail\": {\"Url\": \"http://www.example.com/image/481989943\", \"Height\": 125, "
        "\"Width\": 100}, \"Animated\" : false, \"IDs\": [116, 943, 234, 38793]}}",
        "[{\"precision\": \"zip\", \"Latitude\": 37.7668, \"Longitude\": -122.3959}, {}]",
        "\"Hello world!\"",
        "42",
        "true",
        "false",
        "null",
        "[]",
        "{}",
        " \t\r\n[ ]\n",
        "-0",
        "0",
        "-1.5e-3",
        "1E+2",
        "0.25",
        "\"\\\"\\\\\\/\\b\\f\\n\\r\\t\\u00e9\\uD834\\uDD1E\"",
        "\"\xc3\xa9 \xe2\x82\xac \xf0\x9d\x84\x9e\"",
        "{\"\": 1}",
        "\xef\xbb\xbf{}"};
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        vs_json_document document;
        vs_faults faults;
        CHECK_OK(parse(good[i], &document, &faults));
        CHECK_TRUE(!vs_faults_any(&faults));
        vs_json_document_free(&document);
    }
}

static void what_it_forbids_is_refused_at_its_place(void **state) {
    (void)state;
    static const struct {
        const char *text, *where, *what;
    } bad[] = {
        {"", "line 1, column 1",
         "must be a value: { [ \" a number, true, false or null (got the end of the file)"},
        {"{\"a\": 1,}", "line 1, column 9", "must be a key in double quotes (got })"},
        {"[1, 2,]", "line 1, column 7",
         "must be a value: { [ \" a number, true, false or null (got ])"},
        {"{a: 1}", "line 1, column 2", "must be a key in double quotes (got a)"},
        {"{'a': 1}", "line 1, column 2", "must be a key in double quotes (got ')"},
        {"{\"a\" 1}", "line 1, column 6", "must be a colon after the key (got 1)"},
        {"{\"a\": 1\n \"b\": 2}", "line 2, column 2",
         "must be a comma or } after a member (got \")"},
        {"[1 2]", "line 1, column 4", "must be a comma or ] after an element (got 2)"},
        {"{} {}", "line 1, column 4", "must be the end of the file after its one value (got {)"},
        {"0123", "line 1, column 2", "must be a number without leading zeros (got 1)"},
        {"+1", "line 1, column 1", "must be a value: { [ \" a number, true, false or null (got +)"},
        {".5", "line 1, column 1", "must be a value: { [ \" a number, true, false or null (got .)"},
        {"1.", "line 1, column 3",
         "must be a digit after the decimal point (got the end of the file)"},
        {"-x", "line 1, column 2", "must be a digit after the minus sign (got x)"},
        {"1e", "line 1, column 3", "must be a digit of the exponent (got the end of the file)"},
        {"0x10", "line 1, column 2", "must be the end of the file after its one value (got x)"},
        {"NaN", "line 1, column 1",
         "must be a value: { [ \" a number, true, false or null (got N)"},
        {"-Infinity", "line 1, column 2", "must be a digit after the minus sign (got I)"},
        {"tru", "line 1, column 1",
         "must be a value: { [ \" a number, true, false or null (got t)"},
        {"\"a\nb\"", "line 1, column 3",
         "must be a string that ends with \" on its line (got the end of the line)"},
        {"\"a\tb\"", "line 1, column 3",
         "must be a string that ends with \" on its line (got byte 0x09)"},
        {"\"\\x\"", "line 1, column 3",
         "must be one of \" \\ / b f n r t u after a backslash (got x)"},
        {"\"\\u12g4\"", "line 1, column 6", "must be four hexadecimal digits after \\u (got g)"},
        {"\"\\ud800\"", "line 1, column 4", "must be a whole pair of surrogates after \\u (got d)"},
        {"\"\\udc00\"", "line 1, column 4", "must be a whole pair of surrogates after \\u (got d)"},
        {"\"\\u0000\"", "line 1, column 4", "must be a character other than \\u0000 (got 0)"},
        {"\"\xc3\xa9\" // \xc3\xa9", "line 1, column 5",
         "must be the end of the file after its one value (got /; JSON has no comments)"},
        {"[\"\xc0\xaf\"]", "line 1, column 3", "must be UTF-8 text (got byte 0xc0)"},
        {"\xff\xfe", "line 1, column 1", "must be UTF-8 text (got byte 0xff)"},
        {"\"\xed\xa0\x80\"", "line 1, column 2", "must be UTF-8 text (got byte 0xed)"},
        {"\"\xf4\x90\x80\x80\"", "line 1, column 2", "must be UTF-8 text (got byte 0xf4)"},
        {"\n\n [\"\xe2\x82\"]", "line 3, column 4", "must be UTF-8 text (got byte 0xe2)"}};
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        vs_json_document document;
        vs_faults faults;
        CHECK_STATUS(parse(bad[i].text, &document, &faults), VS_ERR_INPUT);
        CHECK_TRUE(document.root == NULL && faults.count == 1);
        check_fault(&faults, 0, bad[i].where, bad[i].what);
    }
}

static void a_nul_byte_is_no_json(void **state) {
    (void)state;
    vs_json_document document;
    vs_faults faults = {0};
    CHECK_STATUS(vs_json_document_init(&document, "{}\0", 3, &faults), VS_ERR_INPUT);
    check_fault(&faults, 0, "line 1, column 3",
                "must be the end of the file after its one value (got byte 0x00)");
}

static void repeats_and_overflows_are_all_listed(void **state) {
    (void)state;
    vs_json_document document;
    vs_faults faults;
    CHECK_STATUS(
        parse("{\"a\": 1e999, \"b\": [{\"x/y\": 1, \"~\": 2, \"x/y\": 3}, -1e400], \"a\": 0}",
              &document, &faults),
        VS_ERR_INPUT);
    CHECK_TRUE(faults.count == 4);
    check_fault(&faults, 0, "/a", "must be given once (got it again)");
    check_fault(&faults, 1, "/a", "must be a number within about 1.8e308 (got one beyond)");
    check_fault(&faults, 2, "/b/0/x~1y", "must be given once (got it again)");
    check_fault(&faults, 3, "/b/1", "must be a number within about 1.8e308 (got one beyond)");
}

static void next_to_nothing_is_nothing(void **state) {
    (void)state;
    static const vs_json_range from_0 = {0, 1, false, false}, over_0 = {0, 1, true, false};
    vs_json_document document;
    vs_faults faults;
    CHECK_OK(parse("[4.94e-324, -9e-101, 1e-99]", &document, &faults));
    vs_json_value root = vs_json_root(&document, &faults);
    double number[3];
    CHECK_TRUE(vs_json_need_numbers(&root, NULL, from_0, number, 3));
    CHECK_TRUE(number[0] == 0 && number[1] == 0 && number[2] > 0);
    CHECK_TRUE(!vs_json_need_numbers(&root, NULL, over_0, number, 3));
    check_fault(&faults, 0, "/0", "must be over 0 (got 4.94065645841247e-324)");
    vs_json_document_free(&document);
}

static void limits_hold(void **state) {
    (void)state;
    char nest[80] = "";
    for (int depth = 0; depth < 33; depth++) {
        strcat(nest, "[");
    }
    vs_json_document document;
    vs_faults faults;
    CHECK_STATUS(parse(nest, &document, &faults), VS_ERR_INPUT);
    check_fault(&faults, 0, "line 1, column 33", "must be nested at most 32 deep (got [)");
    char digits[80];
    memset(digits, '7', sizeof digits);
    digits[61] = '\0';
    CHECK_STATUS(parse(digits, &document, &faults), VS_ERR_INPUT);
    check_fault(&faults, 0, "line 1, column 1",
                "must be a number of at most 60 characters (got 7)");
    digits[60] = '\0';
    CHECK_OK(parse(digits, &document, &faults));
    vs_json_document_free(&document);

    size_t size = VS_JSON_BYTES_MAX + 1;
    char *huge = malloc(size);
    assert_non_null(huge);
    memset(huge, ' ', size);
    memset(&faults, 0, sizeof faults);
    CHECK_STATUS(vs_json_document_init(&document, huge, size, &faults), VS_ERR_INPUT);
    check_fault(&faults, 0, "", "must be a file of at most 4 MiB (got 4194305 bytes)");
    for (size_t i = 0; i < size; i++) {
        huge[i] = i % 2 ? '0' : ',';
    }
    huge[0] = '[';
    memset(&faults, 0, sizeof faults);
    CHECK_STATUS(vs_json_document_init(&document, huge, size - 1, &faults), VS_ERR_INPUT);
    assert_string_equal(faults.item[0].text, "must be a file of at most 200000 values (got 0)");
    free(huge);
}

/* RFC 6901 section 5: its document and its pointers. */
static void pointers_are_those_of_rfc_6901(void **state) {
    (void)state;
    static const char *text =
        "{\"foo\": [\"bar\", \"baz\"], \"\": 0, \"a/b\": 1, \"c%d\": 2, \"e^f\": 3, \"g|h\": 4, "
        "\"i\\\\j\": 5, \"k\\\"l\": 6, \" \": 7, \"m~n\": 8}";
    static const struct {
        const char *pointer;
        double value;
    } rows[] = {{"/", 0},     {"/a~1b", 1}, {"/c%d", 2}, {"/e^f", 3}, {"/g|h", 4},
                {"/i\\j", 5}, {"/k\"l", 6}, {"/ ", 7},   {"/m~0n", 8}};
    vs_json_document document;
    vs_faults faults;
    CHECK_OK(parse(text, &document, &faults));
    vs_json_value root = vs_json_root(&document, &faults);
    static const vs_json_range all = {-10, 10, false, false};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        vs_json_value value = vs_json_resolve(&root, rows[i].pointer);
        CHECK_NEAR(vs_json_need_number(&value, NULL, all), rows[i].value, 0, 0);
        assert_string_equal(value.pointer, rows[i].pointer);
    }
    vs_json_value whole = vs_json_resolve(&root, "");
    CHECK_TRUE(vs_json_is_object(&whole) && vs_json_count(&whole) == 10);
    vs_json_value foo = vs_json_resolve(&root, "/foo/0");
    assert_string_equal(vs_json_need_text(&foo, NULL), "bar");
    static const char *nowhere[] = {"foo",  "/foo/2", "/foo/00",         "/foo/-", "/foo/1/x",
                                    "/m~n", "/nil",   "/foo/4294967296", "/a/b"};
    for (size_t i = 0; i < sizeof nowhere / sizeof nowhere[0]; i++) {
        vs_json_value value = vs_json_resolve(&root, nowhere[i]);
        CHECK_TRUE(!vs_json_exists(&value));
    }
    CHECK_TRUE(!vs_faults_any(&faults));
    vs_json_document_free(&document);
}

static void readers_say_what_would_be_right(void **state) {
    (void)state;
    vs_json_document document;
    vs_faults faults;
    CHECK_OK(parse("{\"beam\": 220, \"edge\": 0, \"name\": \"\", \"kind\": \"spott\", \"on\": 1, "
                   "\"tint\": [1, 2], \"list\": [], \"dimer\": 1, \"zzz\": null, \"note_1\": {}}",
                   &document, &faults));
    vs_json_value root = vs_json_root(&document, &faults);
    static const char *const keys[] = {"beam", "edge", "name", "kind",
                                       "on",   "tint", "list", "dimmer"};
    static const char *const kinds[] = {"lamp", "spot"};
    static const vs_json_range open = {0, 180, true, true};
    double tint[3];
    CHECK_TRUE(vs_json_check_object(&root, keys, 8));
    static const char *const wrong[] = {"beam", "edge", "none"};
    for (size_t i = 0; i < 3; i++) {
        double number = vs_json_need_number(&root, wrong[i], open);
        CHECK_NAN(number);
    }
    CHECK_NEAR(vs_json_take_number(&root, "none", open, 7), 7, 0, 0);
    CHECK_TRUE(vs_json_need_text(&root, "name") == NULL);
    CHECK_TRUE(vs_json_need_choice(&root, "kind", kinds, 2) == SIZE_MAX);
    CHECK_TRUE(vs_json_take_bool(&root, "on", true));
    CHECK_TRUE(!vs_json_need_numbers(&root, "tint", open, tint, 3));
    CHECK_NAN(tint[1]);
    vs_json_value list = vs_json_get(&root, "list");
    CHECK_TRUE(!vs_json_check_array(&list, 1, 64, "rooms"));
    static const struct {
        const char *where, *text;
    } want[] = {
        {"/dimer", "unknown key; did you mean \"dimmer\"?"},
        {"/zzz", "unknown key; known here are beam, edge, name, kind, on, tint, list, dimmer"},
        {"/beam", "must be between 0 and 180 (got 220)"},
        {"/edge", "must be over 0 (got 0)"},
        {"/none", "must be a number between 0 and 180 (got nothing)"},
        {"/name", "must be a text of 1 to 400 bytes (got 0)"},
        {"/kind", "must be one of \"lamp\", \"spot\"; did you mean \"spot\"? (got \"spott\")"},
        {"/on", "must be true or false (got 1)"},
        {"/tint", "must be an array of 3 numbers (got an array of 2)"},
        {"/list", "must hold 1 to 64 rooms (got 0)"}};
    CHECK_TRUE(faults.count == sizeof want / sizeof want[0]);
    for (size_t i = 0; i < faults.count; i++) {
        check_fault(&faults, i, want[i].where, want[i].text);
    }
    vs_json_document_free(&document);
}

static void near_words_are_near(void **state) {
    (void)state;
    static const char *const words[] = {"at", "aim", "beam_deg", "field_deg", "lumens"};
    assert_string_equal(vs_json_nearest("beamdeg", words, 5), "beam_deg");
    assert_string_equal(vs_json_nearest("aimed", words, 5), "aim");
    assert_string_equal(vs_json_nearest("lumnes", words, 5), "lumens");
    CHECK_TRUE(vs_json_nearest("on", words, 5) == NULL);
    CHECK_TRUE(vs_json_nearest("x", words, 5) == NULL);
    CHECK_TRUE(vs_json_nearest("", words, 5) == NULL);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_the_grammar_allows_passes),
        cmocka_unit_test(what_it_forbids_is_refused_at_its_place),
        cmocka_unit_test(a_nul_byte_is_no_json),
        cmocka_unit_test(repeats_and_overflows_are_all_listed),
        cmocka_unit_test(next_to_nothing_is_nothing),
        cmocka_unit_test(limits_hold),
        cmocka_unit_test(pointers_are_those_of_rfc_6901),
        cmocka_unit_test(readers_say_what_would_be_right),
        cmocka_unit_test(near_words_are_near),
    };
    return RUN_TESTS(tests);
}
