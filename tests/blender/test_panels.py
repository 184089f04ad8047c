"""Every panel and menu draws, and every operator stands in one of them."""


class _Layout:
    """Stands for a layout: takes every call, and remembers the texts and the operators."""

    def __init__(self, seen):
        self.__dict__["seen"] = seen

    def __getattr__(self, name):
        def call(*args, **named):
            self.seen.append((name, args, named))
            return _Layout(self.seen)

        return call

    def __setattr__(self, name, value):
        pass


def test_panels_and_menus_draw_before_and_after_a_look(addon, scene, solid, fast):
    from types import SimpleNamespace

    import bpy

    solid()
    names = [n for n in dir(bpy.types) if n.startswith(("BUCKWRIGHT_PT_", "BUCKWRIGHT_MT_"))]
    operators = {}
    for after in (False, True):
        if after:
            bpy.ops.buckwright.look()
        for name in names:
            seen = []
            panel = getattr(bpy.types, name)
            if not hasattr(panel, "poll") or panel.poll(bpy.context):
                panel.draw(SimpleNamespace(layout=_Layout(seen)), bpy.context)
            operators |= {args[0]: name for call, args, _ in seen if call == "operator"}
    for name in operators:
        space, _, operator = name.partition(".")
        assert hasattr(getattr(bpy.ops, space), operator), name
    # Search shows only what a menu holds: every operator must be drawn somewhere.
    registered = {f"buckwright.{name}" for name in dir(bpy.ops.buckwright)}
    assert (
        registered
        - set(operators)
        - {"buckwright.load_preset", "buckwright.remove_preset", "buckwright.explain"}
        == set()
    )
