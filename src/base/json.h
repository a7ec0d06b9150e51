/* JSON lines out: one flat object a line, written into a fixed buffer. Strings are escaped and
 * kept valid UTF-8; numbers come from text_number, so the locale never shows. */
#ifndef STOKEHOLD_BASE_JSON_H
#define STOKEHOLD_BASE_JSON_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct json {
    char *buf;
    size_t cap, len;
    bool first, overflow;
};

/* Starts an object in buf. */
void json_open(struct json *j, char *buf, size_t cap);
void json_string(struct json *j, const char *key, const char *value); /* NULL value writes null */
void json_number(struct json *j, const char *key, double value,
                 int decimals); /* not finite: null */
void json_integer(struct json *j, const char *key, int64_t value);
void json_bool(struct json *j, const char *key, bool value);
void json_null(struct json *j, const char *key);
void json_time(struct json *j, const char *key, int64_t wall_ns); /* epoch seconds, exact */
/* Puts an already written JSON value. */
void json_raw(struct json *j, const char *key, const char *value);
/* Ends the object with "}\n" and a NUL; returns the text, or NULL if it did not fit. */
const char *json_close(struct json *j);

#endif
