"""The document's structure (tagged PDF, ISO 32000-1 14.7 and 14.8): what is read aloud, in which order, as what."""

from __future__ import annotations

from collections import defaultdict

import pikepdf
from pikepdf import Array, Dictionary, Name, String

from bookbuild.pages.record import Node, Record


def add_structure(pdf: pikepdf.Pdf, record: Record, links: dict[int, pikepdf.Object]) -> None:
    """Write the structure tree of everything drawn; `links` are the annotations by their place in the record."""
    root = pdf.make_indirect(Dictionary(Type=Name.StructTreeRoot))
    builder = _Builder(pdf, links)
    root.K = Array([builder.build(node, root) for node in _trim(record.root)])
    root.ParentTree = pdf.make_indirect(Dictionary(Nums=Array(builder.parents())))
    root.ParentTreeNextKey = len(pdf.pages) + len(links)
    pdf.Root.StructTreeRoot = root
    pdf.Root.MarkInfo = Dictionary(Marked=True)


def _trim(node: Node) -> list[Node]:
    """The node without empty elements inside; [] when nothing is left of it. Table cells may be empty."""
    node.children = [kept for child in node.children for kept in _trim(child)]
    return [node] if node.children or node.content or node.links or node.kind == "TD" else []


class _Builder:
    """Makes structure elements and remembers which element owns each marked content and each annotation."""

    def __init__(self, pdf: pikepdf.Pdf, links: dict[int, pikepdf.Object]) -> None:
        self.pdf, self.links = pdf, links
        self.owners: dict[int, dict[int, pikepdf.Object]] = defaultdict(dict)
        self.link_owners: dict[int, pikepdf.Object] = {}

    def build(self, node: Node, parent: pikepdf.Object) -> pikepdf.Object:
        """The element of a node and, below it, of its children."""
        kind = "Span" if node.kind == "Link" and not node.links else node.kind
        element = self.pdf.make_indirect(Dictionary(Type=Name.StructElem, S=Name(f"/{kind}"), P=parent))
        if node.alt:
            element.Alt = String(node.alt)
        if node.title:
            element.T = String(node.title)
        if node.scope:
            element.A = Dictionary(O=Name.Table, Scope=Name(f"/{node.scope}"))
        if node.content:
            element.Pg = self.pdf.pages[node.content[0][0]].obj
        kids = [self._content(element, page, number, node.content[0][0]) for page, number in node.content]
        kids += [self._link(element, place) for place in node.links]
        kids += [self.build(child, element) for child in node.children]
        element.K = Array(kids)
        return element

    def _content(self, element: pikepdf.Object, page: int, number: int, usual: int) -> pikepdf.Object | int:
        """Marked content as the element's kid: its number alone where it lies on the element's `usual` page."""
        self.owners[page][number] = element
        if page == usual:
            return number
        return Dictionary(Type=Name.MCR, Pg=self.pdf.pages[page].obj, MCID=number)

    def _link(self, element: pikepdf.Object, place: int) -> pikepdf.Object:
        self.link_owners[place] = element
        return Dictionary(Type=Name.OBJR, Obj=self.links[place])

    def parents(self) -> list[object]:
        """The parent tree: for each page its elements by marked content, then for each link its element."""
        numbers: list[object] = []
        for index, page in enumerate(self.pdf.pages):
            owned = self.owners[index]
            if owned:
                page.obj.StructParents = index
                array = Array([owned.get(number) for number in range(max(owned) + 1)])
                numbers += [index, self.pdf.make_indirect(array)]
        for place, element in sorted(self.link_owners.items()):
            key = len(self.pdf.pages) + place
            self.links[place].StructParent = key
            numbers += [key, element]
        return numbers
