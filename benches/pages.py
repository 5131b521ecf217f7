"""The page sets of a case (the JSON of `vitreoleaf blocks`) as HTML with the same words, headings, lists and tables.

Drawings become their alternative text and their labels. A kind of block that is not known here is an error.
"""

from html import escape

SIZES = {"us-letter": "8.5in 11in", "a4": "210mm 297mm"}

# Sizes as in templates/pages/theme.typ: body, title, section, item, margin at the sides.
PATIENT = ("14pt", "20pt", "17pt", "15pt", "1in")
STAFF = ("11pt", "18pt", "13.5pt", "11.5pt", "0.8in")
LARGE = ("18pt", "28pt", "23pt", "20pt", "0.9in")

STYLE = """
@page {{ size: {paper}; margin: 1.7in {side} 1.2in; @top-left {{ content: element(head); width: 100% }}
  @bottom-left {{ content: element(foot); width: 100% }} }}
.head {{ position: running(head) }}
.foot {{ position: running(foot) }}
.foot .place::after {{ content: " " counter(page) " " attr(data-of) " " counter(pages) }}
body {{ font: {body}/1.27 "Noto Sans"; color: black }}
h1 {{ font-size: {title} }} h2 {{ font-size: {section} }} h3 {{ font-size: {item} }}
h1, h2, h3 {{ break-after: avoid }}
table {{ width: 100%; border-collapse: collapse }}
caption {{ text-align: left; font-weight: bold }}
th, td {{ text-align: left; vertical-align: top; padding: 5pt; border-bottom: 0.6pt solid #5f5f5f }}
tr, .whole {{ break-inside: avoid }}
.lead {{ border-left: 4pt solid black; padding-left: 12pt }}
.box {{ border: 1.6pt solid black; padding: 12pt }}
.line {{ border-bottom: 1pt solid black; height: 8.5mm }}
.new-page {{ break-before: page }}
"""


def inlines(items):
    return "".join(inline(item) for item in items)


def inline(item):
    match item["t"]:
        case "text":
            return escape(item["v"])
        case "strong":
            return f"<strong>{inlines(item['v'])}</strong>"
        case "note":
            return f"&nbsp;[{item['v']}]"
    raise ValueError(f"unknown inline: {item['t']}")


def paragraph(text):
    return f"<p>{text}</p>"


def unordered(items):
    return "<ul>" + "".join(f"<li>{item}</li>" for item in items) + "</ul>"


def row(cells, tag="td"):
    return "<tr>" + "".join(f"<{tag}>{cell}</{tag}>" for cell in cells) + "</tr>"


def table(rows, head=None, caption=None):
    top = f"<caption>{escape(caption)}</caption>" if caption else ""
    if head:
        top += f"<thead>{row(head, 'th')}</thead>"
    return f"<table>{top}<tbody>{''.join(map(row, rows))}</tbody></table>"


def drawing(it, *labels):
    """Alternative text apart from the labels: our own pages print only the labels."""
    words = "".join(paragraph(escape(label)) for label in labels)
    return f'<div class="whole"><p class="alt">{escape(it["alt"])}</p>{words}</div>'


def listing(it):
    tag = "ol" if it["ordered"] else "ul"
    return f"<{tag}>" + "".join(f"<li>{inlines(item)}</li>" for item in it["items"]) + f"</{tag}>"


def warning(it):
    phones = [(escape(p["hours"]) + "<br>" + escape(p["who"]), escape(p["number"])) for p in it["phones"]]
    signs = unordered(map(inlines, it["signs"]))
    action = paragraph(f"<strong>{inlines(it['action'])}</strong>")
    return f'<div class="box"><h2>{escape(it["title"])}</h2>{signs}{action}{table(phones)}</div>'


def notice(it):
    title = paragraph(f"<strong>{escape(it['title'])}</strong>")
    return f'<div class="box whole">{title}{paragraph(inlines(it["text"]))}</div>'


def risk(it):
    text = "".join(paragraph(inlines(part)) for part in it["text"])
    return f'<div class="whole"><h3>{escape(it["name"])}</h3>{text}</div>'


def table_block(it):
    return table([map(inlines, cells) for cells in it["rows"]], map(escape, it["columns"]), it["caption"])


def appointment(it):
    lines = [it["title"], it["when"], it["place"]]
    text = "".join(paragraph(escape(line)) for line in lines)
    return f'<div class="box whole">{text}{paragraph(inlines(it["text"]))}</div>'


def calendar(it):
    def dose(one):
        note = it["given_word"] if one["given"] else one["period"]
        return escape(f"[{'×' if one['given'] else ' '}] {one['time']} {note}")

    def cell(doses, stop):
        return "<br>".join([*map(dose, doses), *([f"<strong>{escape(stop)}</strong>"] if stop else [])]) or "–"

    def day(one):
        date = "<br>".join(escape(one[key]) for key in ("weekday", "date", "mark") if one[key])
        return [date, *map(cell, one["doses"], one["stops"])]

    heads = ["<br>".join(escape(drug[key]) for key in ("name", "eye", "note") if drug[key]) for drug in it["drugs"]]
    return table(map(day, it["days"]), [escape(it["date_head"]), *heads])


def strip(it):
    names = dict.fromkeys(bar["label"] for bar in it["bars"])
    return drawing(it, *names, *(bar["text"] for bar in it["bars"]), *(mark["label"] for mark in it["marks"]))


def clearances(it):
    points = [it["target_label"], *(focus["label"] for focus in it["foci"])]
    return drawing(it, it["zero_label"], it["retina_label"], *points, it["margin_label"])


def blanks(labels):
    return " ".join(f"{escape(label)} ________" for label in labels)


def checklist(it):
    return unordered(f"[ ] {inlines(item['text'])} {blanks(item['blanks'])}" for item in it["items"])


def choice(it):
    return paragraph(inlines(it["question"])) + unordered(f"[ ] {escape(option)}" for option in it["options"])


def ruled_lines(it):
    return f'<div class="whole">{paragraph(escape(it["label"]))}' + '<div class="line"></div>' * it["count"] + "</div>"


def signatures(it):
    sentence = "".join(paragraph(inlines(part)) for part in it["sentence"])
    signers = "".join(
        paragraph(f"<strong>{escape(one['role'])}</strong>")
        + "".join(f'<div class="line"></div>{paragraph(escape(label))}' for label in one["blanks"])
        for one in it["signers"]
    )
    return f'<div class="whole"><h2>{escape(it["title"])}</h2>{sentence}{signers}</div>'


def references(it):
    numbered = enumerate(it["items"], 1)
    return "".join(paragraph(f"[{number}] {inlines(item)}") for number, item in numbered)


BLOCKS = {
    "heading": lambda it: f"<h{it['level']}>{escape(it['text'])}</h{it['level']}>",
    "paragraph": lambda it: paragraph(inlines(it["text"])),
    "lead": lambda it: f'<p class="lead">{inlines(it["text"])}</p>',
    "list": listing,
    "pairs": lambda it: table([(escape(pair["label"]), inlines(pair["value"])) for pair in it["items"]]),
    "warning": warning,
    "notice": notice,
    "risk": risk,
    "figures": lambda it: drawing(it, it["filled_label"], it["empty_label"]),
    "table": table_block,
    "appointment": appointment,
    "calendar": calendar,
    "strip": strip,
    "clearances": clearances,
    "eyes": lambda it: drawing(it, it["left"], it["right"], it["mark"]),
    "checklist": checklist,
    "choice": choice,
    "lines": ruled_lines,
    "signatures": signatures,
    "references": references,
    "page-break": lambda it: '<div class="new-page"></div>',
}


def block(it):
    if it["kind"] not in BLOCKS:
        raise ValueError(f"unknown kind of block: {it['kind']}; add it to BLOCKS in benches/pages.py")
    return BLOCKS[it["kind"]](it)


def edges(doc):
    head, foot = doc["header"], doc["footer"]
    banner = paragraph(escape(doc["banner"])) if doc["banner"] else ""
    place = f'<span class="place" data-of="{escape(foot["of"])}">{escape(foot["page"])}</span>'
    return (
        f'<div class="head">{banner}<p><strong>{escape(head["name"])}</strong><br>{escape(head["identifiers"])}<br>'
        f"<strong>{escape(head['eye'])}</strong></p></div>"
        f'<div class="foot"><p>{escape(foot["document"])}<br>{escape(foot["practice"])} {place}</p></div>'
    )


def html(doc):
    """One page set as a whole HTML file."""
    staff = doc["page"] in ("surgeon", "desk")
    body, title, section, item, side = LARGE if doc["print"] == "large" else STAFF if staff else PATIENT
    style = STYLE.format(paper=SIZES[doc["paper"]], body=body, title=title, section=section, item=item, side=side)
    return (
        f'<!DOCTYPE html><html lang="{escape(doc["language"])}"><head><meta charset="utf-8">'
        f"<title>{escape(doc['title'])}</title><style>{style}</style></head><body>{edges(doc)}"
        f"<h1>{escape(doc['title'])}</h1>{''.join(map(block, doc['blocks']))}</body></html>"
    )
