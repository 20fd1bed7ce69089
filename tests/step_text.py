"""STEP files written as text (ISO 10303-21, schema AP214; entity layouts from memory).

What stands in them is known in closed form: planes and cylinders between two planes y = const, and
bilinear B-spline surfaces through given points.
"""

from __future__ import annotations

import numpy as np

UNITS = {
    "mm": "(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))",
    "cm": "(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.CENTI.,.METRE.))",
    "m": "(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT($,.METRE.))",
}
HEAD = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION(('faces of a made-up front'),'2;1');
FILE_NAME('{name}','',(''),(''),'','','');
FILE_SCHEMA(('AUTOMOTIVE_DESIGN {{ 1 0 10303 214 1 1 1 1 }}'));
ENDSEC;
DATA;
"""


class StepText:
    """A STEP file in the making: parts made of faces, lengths in `unit`."""

    def __init__(self, unit="mm", name="front.step") -> None:
        self.lines: list[str] = []
        self.name = name
        app = self.add("APPLICATION_CONTEXT('automotive design')")
        self.add(f"APPLICATION_PROTOCOL_DEFINITION('','automotive_design',2000,{app})")
        self.product_context = self.add(f"PRODUCT_CONTEXT('',{app},'mechanical')")
        self.design_context = self.add(f"PRODUCT_DEFINITION_CONTEXT('part definition',{app},'')")
        if unit in UNITS:
            length = self.add(UNITS[unit])
        elif unit is not None:
            factor = {"in": ("INCH", 25.4), "ft": ("FOOT", 304.8)}[unit]
            milli = self.add(UNITS["mm"])
            size = self.add(f"LENGTH_MEASURE_WITH_UNIT(LENGTH_MEASURE({factor[1]}),{milli})")
            dims = self.add("DIMENSIONAL_EXPONENTS(1.,0.,0.,0.,0.,0.,0.)")
            length = self.add(
                f"(CONVERSION_BASED_UNIT('{factor[0]}',{size})LENGTH_UNIT()NAMED_UNIT({dims}))"
            )
        angle = self.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))")
        solid = self.add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())")
        units = f"{angle},{solid}" if unit is None else f"{length},{angle},{solid}"
        self.context = self.add(
            "(GEOMETRIC_REPRESENTATION_CONTEXT(3)"
            f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({units}))REPRESENTATION_CONTEXT('',''))"
        )

    def add(self, text) -> str:
        self.lines.append(f"#{len(self.lines) + 1}={text};")
        return f"#{len(self.lines)}"

    def text(self) -> str:
        body = "\n".join(self.lines)
        return f"{HEAD.format(name=self.name)}{body}\nENDSEC;\nEND-ISO-10303-21;\n"

    def save(self, path):
        path.write_text(self.text(), "ascii")
        return path

    # Geometry.

    def point(self, xyz) -> str:
        return self.add(f"CARTESIAN_POINT('',{_numbers(xyz)})")

    def direction(self, xyz) -> str:
        return self.add(f"DIRECTION('',{_numbers(xyz)})")

    def place(self, origin, axis, ref) -> str:
        parts = (self.point(origin), self.direction(axis), self.direction(ref))
        return self.add(f"AXIS2_PLACEMENT_3D('',{','.join(parts)})")

    def line(self, a, b) -> str:
        way = np.subtract(b, a)
        span = float(np.linalg.norm(way))
        vector = self.add(f"VECTOR('',{self.direction(way / span)},{span!r})")
        return self.add(f"LINE('',{self.point(a)},{vector})")

    def spline(self, poles, degree, knots) -> str:
        """A B-spline curve; every knot as often as it counts."""
        held = ",".join(self.point(p) for p in poles)
        return self.add(
            f"B_SPLINE_CURVE_WITH_KNOTS('',{degree},({held}),.UNSPECIFIED.,.F.,.F.,"
            f"{','.join(_counted(knots))},.UNSPECIFIED.)"
        )

    def vertex(self, xyz) -> str:
        return self.add(f"VERTEX_POINT('',{self.point(xyz)})")

    def face(self, surface, edges) -> str:
        """A face within edges (start, stop, curve), one after another."""
        corners = [self.vertex(start) for start, _, _ in edges]
        ring = []
        for i, (_, _, curve) in enumerate(edges):
            ends = f"{corners[i]},{corners[(i + 1) % len(edges)]}"
            edge = self.add(f"EDGE_CURVE('',{ends},{curve},.T.)")
            ring.append(self.add(f"ORIENTED_EDGE('',*,*,{edge},.T.)"))
        loop = self.add(f"EDGE_LOOP('',({','.join(ring)}))")
        bound = self.add(f"FACE_OUTER_BOUND('',{loop},.T.)")
        return self.add(f"ADVANCED_FACE('',({bound}),{surface},.T.)")

    def plane(self, a, b, half) -> str:
        """A rectangle above the line from a to b, both (x, z), from y -half to half."""
        (ax, az), (bx, bz) = a, b
        corners = [(ax, -half, az), (bx, -half, bz), (bx, half, bz), (ax, half, az)]
        way = np.array([bx - ax, 0.0, bz - az])
        way /= np.linalg.norm(way)
        surface = self.add(
            f"PLANE('',{self.place(corners[0], np.cross(way, (0.0, 1.0, 0.0)), way)})"
        )
        pairs = zip(corners, corners[1:] + corners[:1], strict=True)
        return self.face(surface, [(p, q, self.line(p, q)) for p, q in pairs])

    def cylinder(self, centre, radius, angles, half) -> str:
        """A round about y through centre (x, z); angles [rad] from +x towards +z, growing."""
        cx, cz = centre
        (a0, a1), axis, ref = angles, (0.0, -1.0, 0.0), (1.0, 0.0, 0.0)
        surface = self.add(
            f"CYLINDRICAL_SURFACE('',{self.place((cx, 0.0, cz), axis, ref)},{float(radius)!r})"
        )

        def at(angle, y):
            return (cx + radius * np.cos(angle), y, cz + radius * np.sin(angle))

        def circle(y, turn):
            place = self.place((cx, y, cz), (0.0, turn, 0.0), ref)
            return self.add(f"CIRCLE('',{place},{float(radius)!r})")

        p, q, r, s = at(a0, -half), at(a1, -half), at(a1, half), at(a0, half)
        edges = [
            (p, q, circle(-half, -1.0)),
            (q, r, self.line(q, r)),
            (r, s, circle(half, 1.0)),
            (s, p, self.line(s, p)),
        ]
        return self.face(surface, edges)

    def sheet(self, poles, degree=1, knots=None) -> str:
        """A B-spline surface of (n, m, 3) poles, of degree 1 along the second axis."""
        n, m = len(poles), len(poles[0])
        own, across = _even(n) if knots is None else knots, _even(m)
        rows = ",".join(f"({','.join(self.point(p) for p in row)})" for row in poles)
        (mult_u, knot_u), (mult_v, knot_v) = _counted(own), _counted(across)
        surface = self.add(
            f"B_SPLINE_SURFACE_WITH_KNOTS('',{degree},1,({rows}),.UNSPECIFIED.,.F.,.F.,.F.,"
            f"{mult_u},{mult_v},{knot_u},{knot_v},.UNSPECIFIED.)"
        )
        back = np.max(own) + np.min(own) - np.asarray(own)[::-1]
        sides = (
            (poles[:, 0], degree, own),
            (poles[-1], 1, across),
            (poles[::-1, -1], degree, back),
            (poles[0, ::-1], 1, across),
        )
        return self.face(surface, [(p[0], p[-1], self.spline(p, d, k)) for p, d, k in sides])

    # Products.

    def part(self, name, faces) -> tuple[str, str]:
        """A product of faces; its definition and its shape."""
        shell = self.add(f"OPEN_SHELL('',({','.join(faces)}))")
        model = self.add(f"SHELL_BASED_SURFACE_MODEL('',({shell}))")
        shape = f"('',({self.base()},{model}),{self.context})"
        return self.product(name, self.add(f"MANIFOLD_SURFACE_SHAPE_REPRESENTATION{shape}"))

    def assembly(self, name, held) -> tuple[str, str]:
        """A product of products, each (definition, shape) moved by (x, y, z)."""
        own = self.base()
        places = [self.base(moved) for _, moved in held]
        shape = f"('',({','.join([own, *places])}),{self.context})"
        made = self.product(name, self.add(f"SHAPE_REPRESENTATION{shape}"))
        for i, ((inner, _), place) in enumerate(zip(held, places, strict=True)):
            self.hold(made, inner, own, place, i)
        return made

    def hold(self, outer, inner, own, place, number=0) -> None:
        """Put a product into another."""
        use = self.add(f"NEXT_ASSEMBLY_USAGE_OCCURRENCE('{number}','','',{outer[0]},{inner[0]},$)")
        used = self.add(f"PRODUCT_DEFINITION_SHAPE('','',{use})")
        turn = self.add(f"ITEM_DEFINED_TRANSFORMATION('','',{own},{place})")
        relation = self.add(
            f"(REPRESENTATION_RELATIONSHIP('','',{inner[1]},{outer[1]})"
            f"REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION({turn})"
            "SHAPE_REPRESENTATION_RELATIONSHIP())"
        )
        self.add(f"CONTEXT_DEPENDENT_SHAPE_REPRESENTATION({relation},{used})")

    def base(self, origin=(0.0, 0.0, 0.0)) -> str:
        return self.place(origin, (0.0, 0.0, 1.0), (1.0, 0.0, 0.0))

    def product(self, name, shape) -> tuple[str, str]:
        product = self.add(f"PRODUCT('{name}','{name}','',({self.product_context}))")
        version = self.add(f"PRODUCT_DEFINITION_FORMATION('','',{product})")
        definition = self.add(f"PRODUCT_DEFINITION('design','',{version},{self.design_context})")
        held = self.add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
        self.add(f"SHAPE_DEFINITION_REPRESENTATION({held},{shape})")
        return definition, shape


def _numbers(values) -> str:
    return f"({','.join(repr(float(v) + 0.0) for v in values)})"


def _even(count) -> list[float]:
    """Knots of degree 1 through some points."""
    return [0.0, *map(float, range(count)), float(count - 1)]


def _counted(knots) -> tuple[str, str]:
    """Multiplicities and knots."""
    values, counts = np.unique(np.asarray(knots, dtype=float), return_counts=True)
    return f"({','.join(map(str, counts))})", _numbers(values)
