/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Changes in a profile's text, byte for byte: everything that was not changed is as it was, however
 * oddly it was written. */
#include "support/cm.h"

#include <math.h>
#include <string.h>

#include "io/hill_edit.h"

static struct td_hill_edit edit;

static void begin(const char *text)
{
    td_hill_edit_begin(&edit, text, strlen(text));
    assert_false(edit.failed);
}

static void is(const char *text)
{
    assert_false(edit.failed);
    assert_string_equal(edit.bytes, text);
    assert_int_equal(edit.length, strlen(text));
    td_hill_edit_free(&edit);
}

static const char compact[] =
    "{\"n\":1e-3,\"features\":[{\"type\":\"Feature\",\"properties\":{\"role\":\"road\"}},"
    "{\"properties\":{\"s\":\"a,]}\\\"\",\"role\":\"stop\",\"x\":1.50},\"geometry\":"
    "{\"coordinates\":[1,2,3]}}],\"z\":[]}";

static void a_value_changes_alone(void **state)
{
    (void)state;
    begin(compact);
    td_hill_edit_set(&edit, 2, TD_IN_PROPERTIES, "role", "\"signal\"");
    is("{\"n\":1e-3,\"features\":[{\"type\":\"Feature\",\"properties\":{\"role\":\"road\"}},"
       "{\"properties\":{\"s\":\"a,]}\\\"\",\"role\":\"signal\",\"x\":1.50},\"geometry\":"
       "{\"coordinates\":[1,2,3]}}],\"z\":[]}");
}

static void a_name_with_escapes_is_that_name(void **state)
{
    (void)state;
    begin("{\"features\":[{\"properties\":{\"r\\u006fle\":\"stop\"}}]}");
    td_hill_edit_set(&edit, 1, TD_IN_PROPERTIES, "role", "7");
    is("{\"features\":[{\"properties\":{\"r\\u006fle\":7}}]}");
}

static void a_new_member_is_written_as_its_neighbours(void **state)
{
    (void)state;
    begin(compact);
    td_hill_edit_set(&edit, 2, TD_IN_PROPERTIES, "id", "\"a\"");
    is("{\"n\":1e-3,\"features\":[{\"type\":\"Feature\",\"properties\":{\"role\":\"road\"}},"
       "{\"properties\":{\"s\":\"a,]}\\\"\",\"role\":\"stop\",\"x\":1.50,\"id\":\"a\"},"
       "\"geometry\":{\"coordinates\":[1,2,3]}}],\"z\":[]}");
    begin("{ \"features\": [ { \"properties\": {\n   \"role\" : \"stop\",\n   \"a\" : 1\n } } ] }");
    td_hill_edit_set(&edit, 1, TD_IN_PROPERTIES, "id", "2");
    is("{ \"features\": [ { \"properties\": {\n   \"role\" : \"stop\",\n   \"a\" : 1,\n   "
       "\"id\" : 2\n } } ] }");
    begin("{\"features\": [{\"properties\": {\"role\": \"stop\"}}, {\"properties\": {}}]}");
    td_hill_edit_set(&edit, 1, TD_IN_PROPERTIES, "id", "2");
    td_hill_edit_set(&edit, 2, TD_IN_PROPERTIES, "id", "3");
    is("{\"features\": [{\"properties\": {\"role\": \"stop\", \"id\": 2}}, {\"properties\": "
       "{\"id\": 3}}]}");
}

static void a_member_goes_with_its_comma(void **state)
{
    (void)state;
    static const char three[] =
        "{\"features\":[{\"properties\":{\"a\": 1, \"b\":[2,3] , \"c\":3 }}]}";
    begin(three);
    td_hill_edit_set(&edit, 1, TD_IN_PROPERTIES, "a", NULL);
    is("{\"features\":[{\"properties\":{\"b\":[2,3] , \"c\":3 }}]}");
    begin(three);
    td_hill_edit_set(&edit, 1, TD_IN_PROPERTIES, "b", NULL);
    is("{\"features\":[{\"properties\":{\"a\": 1 , \"c\":3 }}]}");
    begin(three);
    td_hill_edit_set(&edit, 1, TD_IN_PROPERTIES, "c", NULL);
    td_hill_edit_set(&edit, 1, TD_IN_PROPERTIES, "d", NULL); /* was not there */
    is("{\"features\":[{\"properties\":{\"a\": 1, \"b\":[2,3] }}]}");
    begin("{\"features\":[{\"properties\":{\"a\": 1}}]}");
    td_hill_edit_set(&edit, 1, TD_IN_PROPERTIES, "a", NULL);
    is("{\"features\":[{\"properties\":{}}]}");
}

static void features_come_and_go(void **state)
{
    (void)state;
    begin("{\"features\": [\n  {\"a\": 1},\n  {\"b\": {\"c\": []}},\n  {\"d\": \"]\"}\n ]}\n");
    td_hill_edit_append(&edit, "{\"e\": 5}");
    td_hill_edit_remove(&edit, 2);
    is("{\"features\": [\n  {\"a\": 1},\n  {\"d\": \"]\"},\n  {\"e\": 5}\n ]}\n");
    begin("{\"features\": [\n  {\"a\": 1},\n  {\"b\": 2}\n ]}");
    td_hill_edit_remove(&edit, 1);
    is("{\"features\": [\n  {\"b\": 2}\n ]}");
    begin("{\"bbox\": [1, 2, 3, 4], \"features\":[{\"a\":1}]}");
    td_hill_edit_append(&edit, "{\"b\":2}");
    is("{\"features\":[{\"a\":1},\n{\"b\":2}]}");
}

static void a_place_moves_with_what_would_be_wrong_then(void **state)
{
    (void)state;
    begin("{\"bbox\":[0,0,1,1],\"features\":[{\"id\":7,\"bbox\":[1,2,1,2],\"properties\":{\"role\":"
          "\"stop\",\"at_m\":5},\"geometry\":{\"type\":\"Point\",\"coordinates\":[1.0,2.0,0.0]}}"
          "]}");
    td_hill_edit_move(&edit, 1, -47.5, -128.12345678, (double)NAN);
    is("{\"features\":[{\"id\":7,\"properties\":{\"role\":\"stop\"},\"geometry\":{\"type\":"
       "\"Point\",\"coordinates\":[-128.1234568, -47.5]}}]}");
    begin("{\"features\":[{\"properties\":{\"role\":\"stop\"},\"geometry\":{\"type\":"
          "\"MultiPoint\",\"coordinates\":[[1.0,2.0]]}}]}");
    td_hill_edit_move(&edit, 1, 47, 128.1, 1234);
    is("{\"features\":[{\"properties\":{\"role\":\"stop\",\"at_m\":1234},\"geometry\":{\"type\":"
       "\"MultiPoint\",\"coordinates\":[[128.1, 47.0]]}}]}");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_value_changes_alone),
        cmocka_unit_test(a_name_with_escapes_is_that_name),
        cmocka_unit_test(a_new_member_is_written_as_its_neighbours),
        cmocka_unit_test(a_member_goes_with_its_comma),
        cmocka_unit_test(features_come_and_go),
        cmocka_unit_test(a_place_moves_with_what_would_be_wrong_then),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
