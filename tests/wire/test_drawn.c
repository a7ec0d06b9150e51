/* Payloads drawn at random, of every length up to some bytes more than a message needs, through all
 * that decodes: what comes out is kept as one golden text. It says that nothing has changed, not
 * that it is right: the other tests of wire hold it to figures from outside. `GOLDEN=write` writes
 * it again. */
#include "wire/catalogue.h"
#include "wire/decode.h"
#include "wire/dm1.h"
#include "wire/name.h"
#include "wire/placeholder.h"

#include "support/check.h"
#include "support/golden.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/banned.h"

#define ROUNDS 60
#define ROOM   600 /* two texts of 255 bytes fit */

static uint32_t state = 20261128;
static uint8_t data[ROOM];

static unsigned draw(unsigned below)
{
    state = state * 1664525u + 1013904223u;
    return (state >> 8) % below;
}

/* Bytes that matter: small ones, the codes at the top, letters. */
static uint8_t draw_byte(void)
{
    switch (draw(6)) {
    case 0:
        return (uint8_t)draw(16);
    case 1:
        return (uint8_t)(0xF8 + draw(8));
    case 2:
        return (uint8_t)('A' + draw(26));
    case 3:
        return draw(2) ? 0 : 0xFF;
    default:
        return (uint8_t)draw(256);
    }
}

static struct message message(uint32_t pgn, unsigned len)
{
    for (unsigned i = 0; i < ROOM; i++)
        data[i] = draw_byte();
    return (struct message){.pgn = pgn,
                            .source = (uint8_t)draw(6),
                            .destination = 255,
                            .len = (uint16_t)len,
                            .data = data,
                            .row = catalogue_find(pgn)};
}

/* A text with its length and kind before it, mostly of a length that fits. */
static unsigned put_text(unsigned at)
{
    unsigned len = draw(5) ? 2 + draw(12) : draw(256);
    data[at] = (uint8_t)len;
    data[at + 1] = (uint8_t)(draw(2) ? 1 : 0);
    for (unsigned i = 0; i < len && at + 2 + i < ROOM; i++)
        data[at + 2 + i] = (uint8_t)(data[at + 1] == 0 && i % 2 && draw(4) ? 0 : 'a' + draw(26));
    return at + len;
}

static void draw_setups(FILE *out)
{
    for (int i = 0; i < 4 * ROUNDS; i++) {
        struct message m = message(i % 9 ? 127513 : 127508, draw(10));
        struct battery_setup s;
        if (draw(2))
            data[1] = (uint8_t)draw(4);
        if (draw(2))
            data[2] = (uint8_t)(draw(9) | draw(4) << 4);
        if (decode_battery_setup(&m, &s))
            fprintf(out, "battery %d %d %d %d %d\n", s.battery, s.type, s.chemistry,
                    s.nominal_volts, (int)battery_setup_chemistry(&s));
        else
            fputs("battery -\n", out);
    }
    for (int type = -1; type < 5; type++)
        for (int chemistry = -1; chemistry < 5; chemistry++) {
            struct battery_setup s = {.type = type, .chemistry = chemistry};
            fprintf(out, "chemistry %d %d %d\n", type, chemistry, (int)battery_setup_chemistry(&s));
        }
}

static void draw_makers(FILE *out)
{
    for (int i = 0; i < 3 * ROUNDS; i++) {
        struct message m = message(i % 3 ? 127498 : 65251, draw(50));
        struct engine_maker e;
        if (i % 3)
            put_text(put_text(3));
        if (decode_engine_maker(&m, &e))
            fprintf(out, "maker %g %g %g %g '%s' '%s'\n", e.rated_rpm, e.idle_rpm, e.high_idle_rpm,
                    e.torque_nm, e.vin, e.software);
        else
            fputs("maker -\n", out);
    }
}

static void draw_products(FILE *out)
{
    for (int i = 0; i < ROUNDS; i++) {
        struct message m = message(126996, 120 + draw(16));
        struct product_info p;
        struct heartbeat h;
        int64_t wall_ns;
        if (decode_product_info(&m, &p))
            fprintf(out, "product %g %d %d %d '%s' '%s' '%s' '%s'\n", p.version, p.code,
                    p.certification, p.load_equivalency, p.model, p.software, p.model_version,
                    p.serial);
        m = message(126993, 5 + draw(4));
        if (decode_heartbeat(&m, &h))
            fprintf(out, "heartbeat %g %d %d %d %d\n", h.interval_s, h.sequence, h.controller1,
                    h.controller2, h.equipment);
        m = message(126992, 6 + draw(3));
        if (decode_system_time(&m, &wall_ns))
            fprintf(out, "time %" PRId64 "\n", wall_ns);
    }
}

static void draw_alerts(FILE *out)
{
    for (int i = 0; i < 2 * ROUNDS; i++) {
        struct message m = message(i % 2 ? 126985 : 126983, 14 + draw(60));
        struct bus_alert a;
        if (i % 2)
            put_text(put_text(17));
        if (!decode_bus_alert(&m, &a)) {
            fputs("alert -\n", out);
            continue;
        }
        fprintf(out, "alert %d %d %d %d %" PRIx64 " %d %d %d %d %d", a.type, a.system, a.subsystem,
                a.id, a.source, a.instance, a.index, a.occurrence, a.priority, a.state);
        fprintf(out, " '%s' '%s'\n", i % 2 ? a.description : "", i % 2 ? a.location : "");
    }
}

static void draw_troubles(FILE *out)
{
    for (int i = 0; i < 2 * ROUNDS; i++) {
        struct message m = message(i % 5 ? 65226 : 65227, draw(4) ? draw(30) : draw(220));
        struct dm1 d;
        if (!dm1_decode(&m, &d)) {
            fputs("codes -\n", out);
            continue;
        }
        fprintf(out, "codes %d %d:", d.code_count, d.more);
        for (int l = 0; l < DM1_LAMPS; l++)
            fprintf(out, " %d/%d/%s", (int)d.lamps[l], (int)d.flashes[l],
                    dm1_flash_text(&d, (enum dm1_lamp)l) ? "flashes" : "-");
        for (int c = 0; c < d.code_count && c < 4; c++)
            fprintf(out, " %u-%d-%d%s", (unsigned)d.codes[c].spn, d.codes[c].fmi, d.codes[c].count,
                    d.codes[c].old_form ? "?" : "");
        fputc('\n', out);
    }
}

static void draw_names(FILE *out)
{
    for (int i = 0; i < ROUNDS; i++) {
        struct message m = message(i % 7 ? 60928 : 60929, 6 + draw(4));
        uint64_t name = 0;
        if (!name_from_claim(&m, &name)) {
            fputs("name -\n", out);
            continue;
        }
        struct name_fields n = name_decode(name);
        fprintf(out, "name %u %u %d %d %d %d %d %d %d\n", (unsigned)n.identity, n.manufacturer,
                n.ecu_instance, n.function_instance, n.function, n.vehicle_class, n.class_instance,
                n.industry_group, n.arbitrary_address);
    }
}

static void draw_status(FILE *out)
{
    for (int i = 0; i < ROUNDS; i++) {
        struct message m = message(i % 7 ? 127489 : 127488, 20 + draw(8));
        uint8_t engine;
        uint16_t one, two;
        if (decode_engine_status(&m, &engine, &one, &two))
            fprintf(out, "status %d %04x %04x\n", engine, one, two);
        else
            fputs("status -\n", out);
    }
}

/* The values of a message, before and after those that are none are marked. */
static void draw_values(FILE *out)
{
    for (size_t r = 0; r < catalogue_count(); r++) {
        const struct pgn_info *row = catalogue_row(r);
        for (int i = 0; i < 12; i++) {
            unsigned whole = row->length ? row->length : 30;
            struct message m = message(row->pgn, i % 3 ? whole : draw(whole + 3));
            struct wire_value v[DECODE_VALUES_MAX];
            if (i % 4 == 3)
                memset(data, i % 8 == 3 ? 0xFF : 0, ROOM);
            if (i % 2)
                data[0] = (uint8_t)draw(3);
            size_t n = decode_values(&m, v);
            bool may = placeholder_may_be(&m, v, n);
            placeholder_mark(&m, v, n);
            fprintf(out, "%u %zu%s", (unsigned)row->pgn, n, may ? " may" : "");
            for (size_t k = 0; k < n; k++)
                if (v[k].status == READING_OK)
                    fprintf(out, " %d.%d.%d=%.7g/%d%s%s%d", v[k].id.quantity, v[k].id.place,
                            v[k].id.sub, v[k].value, v[k].decimals, v[k].at_end ? "!" : "",
                            v[k].repeats ? "" : "~", v[k].field_rank);
                else
                    fprintf(out, " %d.%d.%d:%d", v[k].id.quantity, v[k].id.place, v[k].id.sub,
                            (int)v[k].status);
            fputc('\n', out);
        }
    }
}

static void payloads__drawn_at_random__are_decoded_as_kept(void **unused)
{
    (void)unused;
    static void (*const parts[])(FILE * out) = {draw_setups, draw_makers,   draw_products,
                                                draw_alerts, draw_troubles, draw_names,
                                                draw_status, draw_values};
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    for (size_t i = 0; i < sizeof parts / sizeof *parts; i++)
        parts[i](out);
    fclose(out);
    golden_check("wire", "drawn", text);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(payloads__drawn_at_random__are_decoded_as_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
