"""Random problems of any kind, from a random generator or a hypothesis seed."""

from __future__ import annotations

import random

import numpy as np

from deskmend.choice import Bound, Decision, Item, Mask, Node, Option, Problem, Table


def random_problem(
    seed: int,
    decisions: int = 5,
    options: int = 4,
    tables: int = 5,
    nodes: int = 2,
    spread: int = 12,
    first: str = "value",
    money: bool = True,
) -> Problem:
    """Draw a problem; small value ranges make ties frequent."""
    rng = random.Random(seed)
    items = [
        Item(
            f"i{k}",
            price=None if rng.random() < 0.1 else rng.choice([0, 1, 2, 3, 5, 7]),
            pack=rng.choice([1, 1, 2, 3]),
            owned=rng.choice([0, 0, 1, 2]),
            stock=rng.choice([None, None, 1, 2, 4]),
        )
        for k in range(rng.randint(1, 4))
    ]
    items = [
        Item(
            i.name,
            i.price,
            i.pack,
            i.owned,
            i.stock,
            [(rng.randint(2, 3), max(0, i.price - rng.randint(1, 3)))],
        )
        if i.price is not None and rng.random() < 0.4
        else i
        for i in items
    ]
    made = []
    for d in range(decisions):
        count = rng.randint(1, options)
        made.append(
            Decision(
                f"d{d}",
                [
                    Option(
                        f"o{o}",
                        use={i.name: rng.randint(1, 3) for i in items if o and rng.random() < 0.4},
                        minutes=rng.choice([0, 5, 10]) if o else 0,
                        is_fix=rng.choice([None, None, None, True, False]),
                    )
                    for o in range(count)
                ],
            )
        )
    sizes = {d.name: len(d.options) for d in made}
    derived = []
    for n in range(rng.randint(0, nodes)):
        scope = tuple(rng.sample(sorted(sizes), min(len(sizes), rng.randint(1, 3))))
        size = rng.randint(1, 4)
        shape = [sizes[v] for v in scope]
        index = np.array([rng.randrange(size) for _ in range(int(np.prod(shape)))]).reshape(shape)
        derived.append(Node(f"n{n}", scope, index, size))
        sizes[f"n{n}"] = size

    def any_state() -> tuple[str, str | int]:
        variable = rng.choice(sorted(sizes))
        state = rng.randrange(sizes[variable])
        return variable, state if variable.startswith("n") else f"o{state}"

    def any_table(low: int, high: int, gated: float) -> Table:
        scope = tuple(rng.sample(sorted(sizes), min(len(sizes), rng.randint(1, 3))))
        shape = [sizes[v] for v in scope]
        values = np.array([rng.randint(low, high) for _ in range(int(np.prod(shape)))]).reshape(shape)
        return Table(scope, values, when=any_state() if rng.random() < gated else None)

    masks = []
    for _ in range(rng.randint(0, 2)):
        scope = tuple(rng.sample(sorted(sizes), min(len(sizes), rng.randint(1, 2))))
        shape = [sizes[v] for v in scope]
        masks.append(
            Mask(scope, np.array([rng.random() < 0.8 for _ in range(int(np.prod(shape)))]).reshape(shape))
        )
    forbidden = [dict(any_state() for _ in range(rng.randint(2, 3))) for _ in range(rng.randint(0, 3))]
    bounds = [
        Bound([any_table(-2, 6, 0.4) for _ in range(rng.randint(1, 3))], rng.randint(0, 10))
        for _ in range(rng.choice([0, 0, 1, 2]))
    ]
    return Problem(
        made,
        items,
        [any_table(-3, spread, 0.3) for _ in range(tables)],
        forbidden=forbidden,
        money=rng.choice([None, 3, 8, 15]) if money else None,
        minutes=rng.choice([None, None, 10, 20]),
        nodes=derived,
        masks=masks,
        bounds=bounds,
        first=first,
    )
