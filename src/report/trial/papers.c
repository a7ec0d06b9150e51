/* The page's papers: what people wrote down, what the bus says of its boxes, room to sign. */
#include "report/trial/write.h"

#include "base/text.h"
#include "report/papers/write.h"
#include "report/plot.h"

#include <math.h>

#include "base/banned.h"

static void hour_rows(FILE *out, const struct trial_report *r)
{
    for (int e = 0; e < r->engines; e++) {
        char name[40], text[80], first[24], last[24];

        if (!isfinite(r->hours_first[e]))
            continue;
        text_number(first, sizeof first, r->hours_first[e], 1);
        text_number(last, sizeof last, r->hours_last[e], 1);
        text_format(name, sizeof name, "Hours, %s", r->engine_names[e]);
        text_format(text, sizeof text, "%s h at the start, %s h at the end", first, last);
        fputs("<tr>", out);
        page_row_head(out, name);
        page_words(out, text);
        fputs("</tr>\n", out);
    }
}

static void box_rows(FILE *out, const struct trial_report *r)
{
    for (int i = 0; i < r->boxes; i++) {
        const struct trial_box *b = &r->box[i];
        char address[24], name[24] = "";

        text_format(address, sizeof address, "%u", b->address);
        if (b->name)
            text_format(name, sizeof name, "%016llX", (unsigned long long)b->name);
        fputs("<tr>", out);
        page_row_head(out, address);
        page_words(out, b->has_product ? b->product.model : "");
        page_words(out, b->has_product ? b->product.serial : "");
        page_words(out, b->has_product ? b->product.software : "");
        fprintf(out, "<td class=\"words digest\">%s</td></tr>\n", name);
    }
}

void trial_print_papers(FILE *out, const struct trial_report *r,
                        const struct trial_write_options *o)
{
    papers_print_particulars(out, o->particulars);
    for (int e = 0; e < r->engines; e++) {
        char name[40];

        if (!isfinite(r->hours_first[e]))
            continue;
        text_format(name, sizeof name, "Hours, %s", r->engine_names[e]);
        fprintf(out, "  %-24s ", name);
        trial_put(out, r->hours_first[e], 1, 0, "-");
        fputs(" h at the start, ", out);
        trial_put(out, r->hours_last[e], 1, 0, "-");
        fputs(" h at the end\n", out);
    }
    for (int i = 0; i < r->boxes; i++) {
        const struct trial_box *b = &r->box[i];
        char name[40];

        text_format(name, sizeof name, "Box at address %u", b->address);
        fprintf(out, "  %-24s ", name);
        if (b->has_product)
            fprintf(out, "%s, serial %s, software %s", b->product.model, b->product.serial,
                    b->product.software);
        if (b->name)
            fprintf(out, "%sNAME %016llX", b->has_product ? ", " : "", (unsigned long long)b->name);
        fputc('\n', out);
    }
}

void trial_write_papers(FILE *out, const struct trial_report *r,
                        const struct trial_write_options *o)
{
    if ((o->particulars && o->particulars->lines > 0) || isfinite(r->hours_first[0])) {
        fputs("<h2>Particulars</h2>\n<table>\n<tbody>\n", out);
        papers_rows(out, o->particulars);
        hour_rows(out, r);
        fputs("</tbody>\n</table>\n", out);
    }
    if (r->boxes == 0)
        return;
    fputs("<h2>Boxes on the bus</h2>\n<div class=\"wide\">\n<table>\n<thead><tr><th scope=\"col\" "
          "class=\"row\">Address</th><th scope=\"col\" class=\"words\">Product</th><th "
          "scope=\"col\" class=\"words\">Serial</th><th scope=\"col\" class=\"words\">Software"
          "</th><th scope=\"col\" class=\"words\">NAME</th></tr></thead>\n<tbody>\n",
          out);
    box_rows(out, r);
    fputs("</tbody>\n</table>\n</div>\n", out);
}

void trial_write_signatures(FILE *out, const struct trial_write_options *o)
{
    const struct particulars *p = o->particulars;
    bool any = false;

    fputs("<section class=\"sign\">\n<h2>Signatures</h2>\n<table>\n<thead><tr><th scope=\"col\" "
          "class=\"words\">Name</th><th scope=\"col\" class=\"words\">Place and date</th><th "
          "scope=\"col\" class=\"words\">Signature</th></tr></thead>\n<tbody>\n",
          out);
    for (int i = 0; p && i < p->lines; i++) {
        if (!papers_is_signature(&p->line[i]))
            continue;
        any = true;
        fputs("<tr>", out);
        page_words(out, p->line[i].text);
        fputs("<td></td><td></td></tr>\n", out);
    }
    for (int i = 0; i < 2 && !any; i++)
        fputs("<tr><td></td><td></td><td></td></tr>\n", out);
    fputs("</tbody>\n</table>\n</section>\n", out);
}
