/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the sheet looks: black on white, times large, nothing said by colour alone. Sizes are in
 * points of paper; a browser's zoom and a reader's own font size scale them. Source: CSS 2.2, CSS
 * Paged Media 3 (margins, running titles), CSS Fragmentation 3 (where pages may break). */
#include "report/sheet/sheet.h"

#include <math.h>

#include "veilstop/base/utf8.h"

/* How high the rows of a full first page are. */
#define REST_MM      104.0 /* [mm] of the page that is not rows: head, alarm, curve, plan */
#define ROW_LEAST_MM 12.4  /* [mm] four lines of small letters */
#define ROW_MOST_MM  20.0  /* [mm] a picture at its width */

/* A running title in a style is a string of CSS: quotes, backslashes and what could end the style
 * are escaped by number. */
static void add_css_string(vs_text *out, const char *utf8) {
    for (const char *c = utf8; *c;) {
        size_t length = vs_utf8_character(c);
        unsigned char first = (unsigned char)*c;
        if (length == 0 || first < 0x20 || first == 0x7f) {
            vs_text_addf(out, "\xef\xbf\xbd");
        } else if (first == '"' || first == '\\' || first == '<') {
            vs_text_addf(out, "\\%x ", first);
        } else {
            vs_text_add(out, c, length);
        }
        c += length ? length : 1;
    }
}

static const char *const rules[] = {
    "*{box-sizing:border-box}\n",
    "html{-webkit-text-size-adjust:100%;text-size-adjust:100%}\n",
    "body{margin:0 auto;padding:1em;max-width:196mm;background:#fff;color:#000;",
    "font:8.5pt/1.25 \"Liberation Sans\",Arial,Helvetica,\"DejaVu Sans Condensed\",sans-serif;",
    "font-variant-numeric:tabular-nums;overflow-wrap:anywhere;print-color-adjust:exact;",
    "-webkit-print-color-adjust:exact}\n",
    "h1{font-size:15pt;line-height:1.1;margin:0 0 1.5mm}\n",
    "h2{font-size:11pt;line-height:1.15;margin:2.3mm 0 .8mm}\n",
    "h3{font-size:8.5pt;margin:1.2mm 0 .3mm;break-after:avoid}\n",
    "h2{break-after:avoid}\n",
    "p,ul,ol,figure,dl{margin:0;padding:0}\n",
    "ul,ol{list-style:none}\n",
    "small,.small{font-size:7.5pt}\n",
    "table{border-collapse:collapse;width:100%}\n",
    "th,td{text-align:left;vertical-align:top;padding:.7mm 1mm;border-bottom:.3pt solid #000}\n",
    "thead th{font-size:7.5pt;vertical-align:bottom;border-bottom:1pt solid ",
    "#000;font-weight:400}\n",
    "thead{display:table-header-group}\n",
    "tr{break-inside:avoid}\n",
    "caption{text-align:left;font-size:7.5pt;padding:0 0 .5mm}\n",
    "input[type=checkbox]{appearance:none;-webkit-appearance:none;width:3.2mm;height:3.2mm;",
    "margin:0 1mm 0 0;border:.8pt solid #000;background:#fff;vertical-align:-.5mm;flex:none}\n",
    "input[type=checkbox]:checked{background:#000}\n",
    ".page{break-before:page;margin-bottom:8mm}\n",
    ".page:first-child{break-before:auto}\n",
    ".fill{display:flex;flex-wrap:wrap;gap:1.2mm 4mm;font-size:8pt}\n",
    ".fill li{display:flex;align-items:flex-end;gap:1.5mm;min-height:5mm;flex:1 1 40%}\n",
    ".fill .third{flex:1 1 28%}\n",
    ".rule{flex:1 1 auto;min-width:18mm;border-bottom:.6pt solid #000}\n",
    ".alarm{border:1.6pt solid #000;padding:1.2mm 1.8mm;margin:2.4mm 0 0;font-size:9pt}\n",
    ".note{font-size:8pt;margin-top:1mm}\n",
    ".bad{font-weight:700}\n",
    ".big{font-size:13pt;line-height:1.1;font-weight:700}\n",
    ".when{font-size:13pt;line-height:1.15;font-weight:700;white-space:nowrap}\n",
    ".when small,.time small{font-size:.62em;font-weight:400}\n",
    ".shots th[scope=row]{font-weight:400;width:19%}\n",
    ".shots .name{font-size:10.5pt;font-weight:700;line-height:1.15}\n",
    ".shots img{display:block;width:100%;height:auto;max-height:30mm;object-fit:contain;",
    "object-position:left top}\n",
    ".shots .picture{width:var(--picture)}\n",
    ".shots .haze{width:15%}\n",
    ".shots .grade{width:22%;font-size:7.5pt}\n",
    ".numbers{display:grid;grid-template-columns:auto 1fr 1fr 1fr;column-gap:1.2mm}\n",
    ".numbers dt,.numbers dd{margin:0}\n",
    ".columns{columns:2;column-gap:6mm;column-fill:balance}\n",
    ".run li{display:flex;align-items:baseline;padding:.5mm 0;break-inside:avoid;",
    "border-bottom:.3pt solid #999}\n",
    ".run .time{font-size:12pt;line-height:1.1;font-weight:700;flex:none;width:18mm;",
    "white-space:nowrap}\n",
    ".run .roll{border-top:1pt solid #000}\n",
    ".run .roll .do>strong{font-size:11pt}\n",
    ".run .part{padding-left:4.2mm}\n",
    ".run .part .time{font-size:9pt;font-weight:400}\n",
    ".run .do{flex:1 1 auto}\n",
    "svg{display:block;width:100%;height:auto}\n",
    "svg text{font:9px \"Liberation Sans\",Arial,Helvetica,\"DejaVu Sans Condensed\",sans-serif}\n",
    "figcaption{font-size:7.5pt}\n",
    "figure{break-inside:avoid}\n",
    ".place{display:grid;grid-template-columns:62% 1fr;gap:0 4mm;align-items:start}\n",
    ".place figure{display:flex;flex-direction:column;height:100%;min-height:0}\n",
    ".drawing{position:relative;flex:1 1 auto}\n",
    ".drawing svg{position:absolute;inset:0;height:100%}\n",
    ".place-no{display:inline-block;min-width:4.2mm;padding:0 .8mm;background:#000;color:#fff;",
    "text-align:center}\n",
    ".lamps{columns:2;column-gap:3mm;list-style:decimal;padding-left:4.5mm}\n",
    ".lamps li::marker{font-weight:700}\n",
    ".place ol,.place ul{font-size:7.5pt;line-height:1.2}\n",
    ".place li{break-inside:avoid}\n",
    ".people{font-size:7.7pt}\n",
    ".people th[scope=row]{width:17%}\n",
    ".people td:last-child{width:41%}\n",
    ".card th,.card td{overflow-wrap:break-word}\n",
    ".card td.blank{width:9.5%;border-left:.3pt solid #000}\n",
    ".card tbody tr{height:6mm}\n",
    ".checks{font-size:7.7pt;line-height:1.17}\n",
    ".checks li{padding-left:4.6mm;text-indent:-4.6mm;margin-bottom:.5mm;break-inside:avoid}\n",
    ".pair{display:grid;grid-template-columns:1fr 1fr;gap:0 6mm}\n",
    ".venue dl{display:grid;grid-template-columns:32mm 1fr;gap:.6mm 3mm;font-size:9pt}\n",
    ".venue dt{font-weight:700}\n",
    ".venue dd{margin:0}\n",
    ".venue .fill{font-size:9pt;gap:3mm 6mm;margin-top:3mm}\n",
    ".venue .fill li{min-height:8mm}\n",
    ".tight{font-size:var(--letters);line-height:1.18}\n",
    ".tight .small,.tight small,.tight .grade,.tight thead th,.tight .note,.tight figcaption,",
    ".tight .people{font-size:7pt}\n",
    ".tight .shots tbody tr{height:var(--row)}\n",
    ".tight .shots td,.tight .shots th{padding:.3mm .8mm}\n",
    ".tight .shots th[scope=row]{width:21%}\n",
    ".tight .shots .haze{width:17%}\n",
    ".tight .shots .grade{width:22%}\n",
    ".tight .big{font-size:10pt}\n",
    ".tight .when{font-size:11pt;line-height:1.05}\n",
    ".tight .name{font-size:9pt;line-height:1.1}\n",
    ".tight .haze div,.tight .does div{display:inline}\n",
    ".tight .haze div:not(:last-child)::after,.tight .does div:not(:last-child)::after",
    "{content:\";\"}\n",
    ".tight .run .time{font-size:10.5pt;width:15.5mm}\n",
    ".tight .run .roll .do>strong{font-size:9pt}\n",
    ".tight .run li{padding:.15mm 0}\n",
    ".tight h1{font-size:12pt;margin-bottom:.5mm}\n",
    ".tight .fill{gap:.6mm 4mm}\n",
    ".tight .fill li{min-height:4.6mm}\n",
    ".tight .alarm{font-size:8.2pt;padding:.6mm 1.4mm;margin-top:1.4mm}\n",
    ".tight h2{font-size:9.5pt;margin:1.3mm 0 .4mm}\n",
    ".tight .card tbody tr{height:4.15mm}\n",
    ".tight .card td,.tight .card th{padding:.3mm 1mm}\n",
    ".tight .checks{font-size:7pt;line-height:1.14}\n",
    ".tight .checks li{margin-bottom:.25mm}\n",
    ".tight .checks h3{font-size:7.4pt;margin:.5mm 0 .1mm}\n",
    ".tight caption{font-size:7pt}\n",
    ".foot{display:grid;grid-template-columns:53% 1fr;gap:0 4mm}\n",
    ".foot .place{display:flex;flex-direction:column;min-height:0}\n",
    ".foot .place figure{flex:1 1 0;height:auto;min-height:0}\n",
    ".foot .lamps{columns:auto;padding:0}\n",
    ".foot .lamps li{display:inline}\n",
    ".foot .lamps li::before{counter-increment:list-item;content:counter(list-item) \" \";",
    "font-weight:700}\n",
    ".foot h3{display:none}\n",
    ".venue .checks{font-size:8.2pt;line-height:1.2}\n",
    "@media screen{.page+.page{border-top:1pt solid #000;padding-top:6mm}",
    "body{font-size:11pt}.wide{overflow-x:auto}}\n",
    "@media screen and (max-width:48em){.foot,.place,.columns{display:block;columns:1}",
    ".wide table{min-width:46em}.fill li,.fill .third{flex-basis:100%}",
    ".venue dl{display:block}}\n",
    "@media print{body{padding:0;max-width:none}.page{margin:0}",
    ".whole{display:flex;flex-direction:column;height:var(--page)}",
    ".whole .foots,.whole .foot{flex:1 1 0;min-height:min-content;display:flex;",
    "flex-direction:column}",
    ".whole .foot{display:grid;grid-template-rows:1fr}",
    ".whole .where{flex:1 1 0;min-height:min-content;display:flex;flex-direction:column}",
    ".whole .place{flex:1 1 0;min-height:min-content;max-height:100mm;align-items:stretch}",
    ".whole .drawing{aspect-ratio:auto!important;min-height:28mm}.foot .drawing{min-height:18mm}",
    ".whole h2,.whole .place,.whole figure{break-after:auto;break-inside:auto}}\n"};

/* Sizes that depend on how many shots share the first page: rows, pictures, letters. */
static void add_sizes(vs_sheet *s) {
    double page_mm = s->answer->paper == VS_PAPER_LETTER ? 256 : 273;
    double shots = (double)vs_sheet_shot_count(s);
    double row_mm = (page_mm - REST_MM) / shots;
    row_mm = fmin(fmax(row_mm, ROW_LEAST_MM), ROW_MOST_MM);
    double share = (row_mm - ROW_LEAST_MM) / (ROW_MOST_MM - ROW_LEAST_MM);
    vs_text_addf(s->out, ":root{--page:%.0fmm;--row:%.1fmm;--picture:%.1f%%;--letters:%.1fpt}\n",
                 page_mm, row_mm, s->tight ? 12 + 6 * share : fmin(8 + 36 / shots, 22),
                 7.6 + 0.7 * share);
}

void vs_sheet_add_style(vs_sheet *s) {
    vs_text_addf(
        s->out,
        "@page{size:%s portrait;margin:9mm 10mm 13mm;"
        "@bottom-left{font:7.5pt Arial,Helvetica,\"DejaVu Sans Condensed\",sans-serif;content:\"",
        s->answer->paper == VS_PAPER_LETTER ? "letter" : "A4");
    add_css_string(s->out, s->answer->title);
    vs_text_addf(s->out, "\"}@bottom-right{font:7.5pt Arial,Helvetica,\"DejaVu Sans Condensed\","
                         "sans-serif;white-space:nowrap;content:\"page \" counter(page) \" of \" "
                         "counter(pages)}}\n");
    add_sizes(s);
    for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++) {
        vs_text_addf(s->out, "%s", rules[i]);
    }
}
