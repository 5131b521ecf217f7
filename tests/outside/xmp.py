"""The XMP metadata of a file (ISO 16684-1)."""

from lxml import etree

NAMES = {
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
    "pdf": "http://ns.adobe.com/pdf/1.3/",
    "pdfaid": "http://www.aiim.org/pdfa/ns/id/",
    "pdfuaid": "http://www.aiim.org/pdfua/ns/id/",
    "pdfaSchema": "http://www.aiim.org/pdfa/ns/schema#",
}


def metadata(pdf):
    """The packet as a tree, or nothing."""
    if "/Metadata" not in pdf.Root:
        return None
    parser = etree.XMLParser(resolve_entities=False, no_network=True)
    return etree.fromstring(pdf.Root.Metadata.read_bytes(), parser)


def qualified(name: str) -> str:
    prefix, local = name.split(":")
    return f"{{{NAMES[prefix]}}}{local}"


def value(xmp, name: str) -> str | None:
    """The first property of that name, written as an element or as an attribute."""
    if xmp is None:
        return None
    for node in xmp.iter():
        if node.tag == qualified(name):
            return "".join(node.itertext()).strip()
        if qualified(name) in node.attrib:
            return node.attrib[qualified(name)]
    return None
