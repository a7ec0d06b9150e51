#include "base/json.h"

#include "base/text.h"
#include "base/when.h"

#include <string.h>

#include "base/banned.h"

static void put(struct json *j, const char *s, size_t n)
{
    if (j->overflow || j->len + n >= j->cap) {
        j->overflow = true;
        return;
    }
    memcpy(j->buf + j->len, s, n);
    j->len += n;
}

static void put_text(struct json *j, const char *s)
{
    put(j, s, strlen(s));
}

static void put_quoted(struct json *j, const char *s)
{
    static const char hex[] = "0123456789abcdef";
    size_t len = strlen(s);
    put(j, "\"", 1);
    for (size_t i = 0; i < len;) {
        uint32_t cp;
        size_t n = text_utf8_next(s + i, len - i, &cp);
        if (cp == '"' || cp == '\\') {
            char pair[2] = {'\\', (char)cp};
            put(j, pair, 2);
        } else if (cp < 0x20 || cp == 0x7F) {
            char u[6] = {'\\', 'u', '0', '0', hex[cp >> 4], hex[cp & 15]};
            put(j, u, 6);
        } else {
            char out[4];
            put(j, out, text_utf8_put(out, cp));
        }
        i += n;
    }
    put(j, "\"", 1);
}

static void put_key(struct json *j, const char *key)
{
    if (!j->first)
        put(j, ",", 1);
    j->first = false;
    put_quoted(j, key);
    put(j, ":", 1);
}

void json_open(struct json *j, char *buf, size_t cap)
{
    *j = (struct json){.buf = buf, .cap = cap, .first = true};
    put(j, "{", 1);
}

void json_string(struct json *j, const char *key, const char *value)
{
    put_key(j, key);
    if (value)
        put_quoted(j, value);
    else
        put_text(j, "null");
}

void json_number(struct json *j, const char *key, double value, int decimals)
{
    char tmp[40];
    put_key(j, key);
    put_text(j, text_number(tmp, sizeof tmp, value, decimals) ? tmp : "null");
}

void json_integer(struct json *j, const char *key, int64_t value)
{
    char tmp[24];
    put_key(j, key);
    text_format(tmp, sizeof tmp, "%lld", (long long)value);
    put_text(j, tmp);
}

void json_bool(struct json *j, const char *key, bool value)
{
    json_raw(j, key, value ? "true" : "false");
}

void json_null(struct json *j, const char *key)
{
    json_raw(j, key, "null");
}

void json_time(struct json *j, const char *key, int64_t wall_ns)
{
    char tmp[40];
    put_key(j, key);
    when_epoch(tmp, sizeof tmp, wall_ns);
    put_text(j, tmp);
}

void json_raw(struct json *j, const char *key, const char *value)
{
    put_key(j, key);
    put_text(j, value);
}

const char *json_close(struct json *j)
{
    put(j, "}\n", 2);
    if (j->overflow)
        return NULL;
    j->buf[j->len] = '\0';
    return j->buf;
}
