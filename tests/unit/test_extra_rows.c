/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One row makes a want, a kind of light and a curve: with those of extra_rows.h compiled in, scenes
 * that use them are read, calculated and reported like the ones they copy. */
#include "check.h"

#include <stdio.h>
#include <string.h>

#include "veilstop/report/predict.h"
#include "veilstop/scene/scene_file.h"
#include "veilstop/shot/choose.h"
#include "veilstop/shot/predict.h"
#include "veilstop/shot/want.h"

static const char scene_form[] =
    "{\"veilstop\": 1, \"title\": \"a room\", \"rooms\": [{\"name\": \"room\", \"size\": [6, 4, "
    "3]}],"
    "\"fluid\": \"glycol\", \"lights\": [{\"name\": \"bulb\", \"kind\": \"%s\", \"at\": [3, 2, 2],"
    "%s \"lumens\": 800}], \"cameras\": [{\"name\": \"A\", \"at\": [1, 1, 1.5],"
    "\"aim\": [5, 3, 1.2], \"t_stop\": 2.8, \"curve\": \"%s\"}], \"shots\": [{\"name\": \"1\","
    "\"camera\": \"A\", \"extinction_per_m\": 0.02, \"points\": [{\"name\": \"face\","
    "\"at\": [4, 2.5, 1.4], \"reflectance\": 0.3}], \"wants\": [{\"want\": \"%s\","
    "\"at_least_m\": 80}]}]}";

static vs_status load(vs_scene_file *file, const char *kind, const char *key, const char *curve,
                      const char *want, vs_faults *faults) {
    char text[2048];
    snprintf(text, sizeof text, scene_form, kind, key, curve, want);
    *faults = (vs_faults){0};
    return vs_scene_file_init(file, text, strlen(text), NULL, faults);
}

/* The results of a scene of those kinds. */
typedef struct {
    double veil_nits, signal, value, margin, recommended_per_m;
    char words[128], subject[64];
} answer;

static void ask(const char *kind, const char *curve, const char *want, answer *out) {
    vs_scene_file file;
    vs_faults faults;
    vs_predictor predictor;
    vs_shot_prediction prediction;
    vs_choices choices;
    vs_text words, subject;
    static const vs_style style = {VS_LENGTH_M, false};
    const double room_per_m[] = {0.02};
    CHECK_OK(load(&file, kind, "", curve, want, &faults));
    const vs_scene *s = &file.scene;
    CHECK_OK(vs_predictor_init(&predictor, s));
    CHECK_OK(vs_predict_shot(&predictor, 0, room_per_m, &prediction));
    vs_want_result result = vs_want_evaluate(&prediction, 0, &s->camera[0], NULL);
    CHECK_OK(vs_choose(&predictor, VS_NONE, VS_CHOOSE_ADVICE, &choices));
    vs_text_init(&words);
    vs_text_init(&subject);
    vs_report_want(&words, &style, s, s->shot, s->shot->want);
    vs_report_want_subject(&subject, s, s->shot, s->shot->want);
    out->veil_nits = vs_bands_luminance(prediction.point[0].veil_nits);
    out->signal = vs_curve_encode(&s->camera[0].curve, 0.4);
    out->value = result.value;
    out->margin = result.margin;
    out->recommended_per_m = choices.shot[0].recommended_per_m;
    snprintf(out->words, sizeof out->words, "%s", words.bytes);
    snprintf(out->subject, sizeof out->subject, "%s", subject.bytes);
    CHECK_TRUE(strcmp(vs_curve_name(&s->camera[0].curve), curve) == 0);
    CHECK_TRUE(strcmp(vs_light_kind_word(s->light[0].kind), kind) == 0);
    CHECK_TRUE(strcmp(vs_report_want_name(s->shot->want[0].kind), want) == 0);
    vs_text_free(&words);
    vs_text_free(&subject);
    vs_choices_free(&choices);
    vs_shot_prediction_free(&prediction);
    vs_predictor_free(&predictor);
    vs_scene_file_free(&file);
}

static void a_row_is_enough(void **state) {
    (void)state;
    answer own, copied;
    ask("globe", "twin", "outlook", &own);
    ask("lamp", "srgb", "sight", &copied);
    CHECK_TRUE(own.veil_nits > 0);
    CHECK_NEAR(own.veil_nits, copied.veil_nits, 0, 0);
    CHECK_NEAR(own.signal, copied.signal, 0, 0);
    CHECK_NEAR(own.value, copied.value, 0, 0);
    CHECK_NEAR(own.margin, copied.margin, 0, 0);
    CHECK_NEAR(own.recommended_per_m, copied.recommended_per_m, 0, 0);
    CHECK_TRUE(strcmp(own.words, "outlook of at least 80 m") == 0);
    CHECK_TRUE(strcmp(own.subject, "outlook") == 0);
    CHECK_TRUE(strcmp(copied.words, "visibility at least 80 m") == 0);
}

/* Each row has its own keys: the lamp accepts candelas, the row that copies it only lumens. */
static void a_row_says_which_keys_it_takes(void **state) {
    (void)state;
    vs_scene_file file;
    vs_faults faults;
    CHECK_STATUS(load(&file, "globe", "\"aim\": [1, 1, 1],", "twin", "outlook", &faults),
                 VS_ERR_INPUT);
    CHECK_TRUE(faults.count == 1 &&
               strstr(faults.item[0].text, "must not stand with kind \"globe\"") != NULL);
    CHECK_STATUS(load(&file, "glob", "", "twin", "outlook", &faults), VS_ERR_INPUT);
    CHECK_TRUE(strstr(faults.item[0].text, "\"globe\"") != NULL);
    CHECK_STATUS(load(&file, "globe", "", "twin", "outlok", &faults), VS_ERR_INPUT);
    CHECK_TRUE(strstr(faults.item[0].text, "\"outlook\"") != NULL);
    CHECK_STATUS(load(&file, "globe", "", "twins", "outlook", &faults), VS_ERR_INPUT);
    CHECK_TRUE(strstr(faults.item[0].text, "\"twin\"") != NULL);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_row_is_enough),
        cmocka_unit_test(a_row_says_which_keys_it_takes),
    };
    tests_begin();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
