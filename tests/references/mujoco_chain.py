"""The chain of a person as a model of MuJoCo (Apache-2.0), a general rigid-body engine."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import numpy as np

from frontcheck.body.anatomy import BODIES


def model_text(figure, spring, *, step, gravity=0.0, damping=None):
    """MJCF of the chain, hinges about y, free to move in x and z and to turn."""
    chain = figure.chain
    root = ET.Element("mujoco")
    ET.SubElement(root, "compiler", angle="radian")
    ET.SubElement(
        root, "option", timestep=repr(step), gravity=f"0 0 {-gravity!r}", integrator="Euler",
    )  # fmt: skip
    world = ET.SubElement(root, "worldbody")
    made: list[ET.Element] = []
    for i, name in enumerate(BODIES):
        before = chain.parent[i]
        under = world if before < 0 else made[before]
        x, z = (0.0, figure.hip) if before < 0 else chain.arms[i, before]
        body = ET.SubElement(under, "body", name=name, pos=f"{float(x)!r} 0 {float(z)!r}")
        cx, cz = map(float, chain.centre[i])
        inertia = repr(float(chain.inertia[i]))
        ET.SubElement(
            body, "inertial", pos=f"{cx!r} 0 {cz!r}", mass=repr(float(chain.mass[i])),
            diaginertia=f"{inertia} {inertia} {inertia}",
        )  # fmt: skip
        if before < 0:
            for axis in ("1 0 0", "0 0 1"):
                ET.SubElement(body, "joint", type="slide", axis=axis)
        own = {} if before < 0 else {"stiffness": repr(float(spring[i - 1]))}
        if before >= 0 and damping is not None:
            own["damping"] = repr(float(damping[i - 1]))
        ET.SubElement(body, "joint", type="hinge", axis="0 1 0", **own)
        made.append(body)
    return ET.tostring(root, encoding="unicode")


def run(figure, spring, rates, speed, seconds, step, **options):
    """Absolute angles (9,) at the end."""
    import mujoco

    model = mujoco.MjModel.from_xml_string(model_text(figure, spring, step=step, **options))
    data = mujoco.MjData(model)
    before = figure.chain.parent
    # Joints stand in the order of the tree, depth first, which is that of the bodies.
    relative = np.array(rates) - np.array([0.0, *np.array(rates)[before[1:]]])
    data.qvel[:] = [speed, 0.0, *relative]
    for _ in range(round(seconds / step)):
        mujoco.mj_step(model, data)
    angles = np.array(data.qpos[2:])
    for i in range(1, len(angles)):
        angles[i] += angles[before[i]]
    return angles
