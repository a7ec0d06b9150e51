#include "report/page.h"

#include "report/plot.h"

#include "base/banned.h"

static const char style[] =
    "body{font:11pt/1.35 sans-serif;color:#000;background:#fff;margin:0 auto;max-width:50em;"
    "padding:0 1em}\n"
    "h1{font-size:1.6em;margin:.6em 0 .1em}h2{font-size:1.15em;margin:1.4em 0 .3em;"
    "border-bottom:1px solid #000}h3{font-size:1em;margin:1em 0 .2em}\n"
    "table{border-collapse:collapse;width:100%;font-size:.88em;font-variant-numeric:tabular-nums}\n"
    "caption{text-align:left;font-style:italic;padding:.2em 0}\n"
    "th,td{padding:.12em .55em;text-align:right;border-bottom:1px solid #bbb;white-space:nowrap}\n"
    "td.words,th.words{text-align:left;white-space:normal}\n"
    "tr.fail td,tr.fail "
    "th{font-weight:bold}td.verdict,th.verdict{text-align:left;font-weight:bold}\n"
    "th.row{text-align:left;font-weight:normal;white-space:normal}\n"
    ".wide{overflow-x:auto}.small{font-size:.85em}.digest{font-family:monospace;font-size:.85em;"
    "overflow-wrap:anywhere}\n"
    ".sign td{height:3em;border-bottom:1px solid #000}\n"
    "figure{margin:.8em 0;break-inside:avoid}figcaption{font-weight:bold;margin-bottom:.2em}\n"
    ".plots{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(21em,100%),1fr));"
    "gap:.4em 1.2em}\n"
    "svg{width:100%;height:auto;max-width:44em;font:13px sans-serif}\n"
    "@page{size:A4;margin:15mm;@bottom-right{content:\"page \" counter(page) \" of \" "
    "counter(pages);font:8pt sans-serif}}\n"
    "@media print{body{max-width:none;padding:0;font-size:9.5pt}.wide{overflow:visible}"
    "h2,h3,caption{break-after:avoid}thead{display:table-header-group}.engine,.sign{"
    "break-inside:avoid}tr{break-inside:avoid}.plots{grid-template-columns:1fr 1fr}"
    "th,td{padding:.1em .35em}}\n";

static void title(FILE *out, const char *what, const char *vessel)
{
    plot_text(out, what);
    if (vessel[0])
        fputs(" of ", out);
    plot_text(out, vessel);
}

void page_begin(FILE *out, const char *what, const char *vessel)
{
    fputs("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
          "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>",
          out);
    title(out, what, vessel);
    fprintf(out, "</title>\n<style>\n%s</style>\n</head>\n<body>\n<h1>", style);
    title(out, what, vessel);
    fputs("</h1>\n", out);
}

void page_words(FILE *out, const char *text)
{
    fputs("<td class=\"words\">", out);
    plot_text(out, text);
    fputs("</td>", out);
}

void page_row_head(FILE *out, const char *text)
{
    fputs("<th scope=\"row\" class=\"row\">", out);
    plot_text(out, text);
    fputs("</th>", out);
}

static void digest_row(FILE *out, const char *what, const char *name, const char *digest)
{
    fputs("<tr>", out);
    page_row_head(out, what);
    page_words(out, name);
    fputs("<td class=\"words digest\">", out);
    plot_text(out, digest[0] ? digest : "not known: it could not be read again");
    fputs("</td></tr>\n", out);
}

void page_source(FILE *out, const struct page_source *s)
{
    fputs("<h2>Where it comes from</h2>\n<div class=\"wide\">\n<table>\n<caption>Files and their "
          "SHA-256"
          "</caption>\n<tbody>\n<tr>",
          out);
    page_row_head(out, "Program");
    page_words(out, "stokehold");
    page_words(out, s->version);
    fputs("</tr>\n", out);
    if (s->config)
        digest_row(out, "Configuration", s->config, s->config_sha256);
    else
        fputs("<tr><th scope=\"row\" class=\"row\">Configuration</th><td class=\"words\">the "
              "defaults alone</td><td class=\"words\"></td></tr>\n",
              out);
    for (int i = 0; i < s->logs; i++)
        digest_row(out, "Log", s->log[i].name, s->log[i].sha256);
    fputs("</tbody>\n</table>\n</div>\n", out);
}

void page_end(FILE *out)
{
    fputs("</body>\n</html>\n", out);
}
