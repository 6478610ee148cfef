"""The keys of the circuit beside a procedure."""

from typing import Final

from voicetech.authoring.format import ANSWERS, ANY_TEXT, Key, Lists, Named, Number, Shape, Texts

_ENDS: Final = Key(Texts(count=2), "The two nodes it lies between.", needed=True)
_OHM: Final = Key(Number(above=0), "Its ohms.", needed=True)

_LEG: Final = Shape(
    "leg",
    "A source of the supply.",
    {
        "between": _ENDS,
        "volts": Key(Number(above=0), "Its volts.", needed=True),
        "turn": Key(Number(), "Its turn in degrees; 180 apart make 240 volts, 120 apart 208.", needed=True),
    },
)
_CONTACT: Final = Shape(
    "contact",
    "What a knob opens and closes.",
    {
        "between": _ENDS,
        "ohm": _OHM,
        "knob": Key(ANY_TEXT, "The knob that moves it.", needed=True),
        "closed": Key(Texts(least=1), "The positions in which it is closed.", needed=True),
    },
)
_HEATER: Final = Shape(
    "heater",
    "An element in its sheath.",
    {
        "between": _ENDS,
        "sheath": Key(ANY_TEXT, "The node of its sheath.", needed=True),
        "watts": Key(Number(above=0), "Its watts where no plate tells.", needed=True),
        "volts": Key(Number(above=0), "Its volts where no plate tells.", needed=True),
        "watts_field": Key(ANY_TEXT, "The field its watts are recorded under.", needed=True),
        "volts_field": Key(ANY_TEXT, "The field its volts are recorded under.", needed=True),
        "used": Key(Named(ANY_TEXT), "The positions of knobs in which it heats."),
    },
)
_MOTOR: Final = Shape(
    "motor",
    "A motor and its winding.",
    {
        "between": _ENDS,
        "watts": Key(Number(above=0), "The watts it takes while it runs.", needed=True),
        "volts": Key(Number(above=0), "The volts it takes them at.", needed=True),
        "winding": Key(Number(above=0), "The ohms of its winding for a meter.", needed=True),
        "used": Key(Named(ANY_TEXT), "The positions of knobs in which it runs."),
    },
)
_SENSOR: Final = Shape(
    "sensor",
    "A platinum sensor of 1000 ohms.",
    {"between": _ENDS, "fahrenheit_field": Key(ANY_TEXT, "The field of its temperature.", needed=True)},
)
_FED: Final = Shape(
    "fed",
    "A leg that is fed otherwise.",
    {
        "turn": Key(Number(), "Another turn, in degrees."),
        "factor": Key(Number(above=0), "Its volts times this."),
    },
)
_FAULT: Final = Shape(
    "circuit_fault",
    "One thing that can be wrong, and what it does to the circuit.",
    {
        "say": Key(ANY_TEXT, "What is wrong, in words.", needed=True),
        "cause": Key(ANY_TEXT, "The cause it is called by.", needed=True),
        "weight": Key(Number(above=0), "How likely beside the others; judgement.", needed=True),
        "opened": Key(Texts(), "Parts that conduct nothing."),
        "opened_hot": Key(Texts(), "Parts that conduct nothing once hot."),
        "tripped": Key(Named(Named(ANY_TEXT)), "Parts that are open until a knob is at a position."),
        "welded": Key(Texts(), "Contacts that stay closed."),
        "joints": Key(Named(Texts(count=2)), "Parts with more ohms: under load, and at rest."),
        "leaks": Key(Named(Texts(count=2)), "Elements with a path to the sheath: its place from 0 to 1, and ohms."),
        "leaks_hot": Key(Named(Texts(count=2)), "The same, once hot."),
        "scaled": Key(Named(Number(above=0)), "Parts with their ohms times a factor."),
        "bridged": Key(Lists(3, 3), "Nodes that are joined by so many ohms."),
        "swapped": Key(Lists(2, 2), "Parts with their far ends exchanged."),
        "fed": Key(Named(_FED), "Legs that are fed otherwise."),
        "timed": Key(Named(Number(above=0)), "Times that a stopwatch shows otherwise, in seconds."),
        "degrees": Key(Named(Number()), "What a thermometer shows otherwise, in degrees Fahrenheit."),
        "complaint": Key(ANY_TEXT, "The complaint it makes, where the circuit does not tell it."),
        "held": Key(Named(ANY_TEXT), "Knobs that do as if they stood at a position."),
        "seen": Key(Texts(), "Inspected parts whose look tells it."),
        "told": Key(ANSWERS, "Answers that tell it."),
        "only": Key(ANSWERS, "Answers with which alone it can be."),
    },
)
CIRCUIT: Final = Shape(
    "circuit",
    "The appliance as a circuit, and what can be wrong with it.",
    {
        "legs": Key(Named(_LEG), "The sources of the supply."),
        "wires": Key(Named(Texts(count=3)), "Wires, joints and loads that are always on: two nodes and ohms."),
        "lamps": Key(Named(Texts(count=3)), "Lamps: two nodes, and the ohms a meter finds while they are dark."),
        "contacts": Key(Named(_CONTACT), "What knobs open and close."),
        "heaters": Key(Named(_HEATER), "Elements."),
        "motors": Key(Named(_MOTOR), "Motors."),
        "sensors": Key(Named(_SENSOR), "Platinum sensors."),
        "knobs": Key(Named(Texts(least=1)), "Knobs with their positions, the first at rest."),
        "isolated": Key(Named(ANY_TEXT), "Where knobs stand while the appliance is isolated."),
        "only": Key(Named(ANSWERS), "Parts that are there with some answers only."),
        "usual": Key(Named(ANY_TEXT), "Answers that hold where nothing was answered."),
        "timed": Key(Named(Number(above=0)), "What a stopwatch shows of the sound appliance, in seconds, by field."),
        "degrees": Key(Named(Number()), "What a thermometer shows of the sound appliance, in Fahrenheit, by field."),
        "in_use": Key(Named(ANY_TEXT), "Positions of knobs in which the customer uses it."),
        "works": Key(Named(ANY_TEXT), "Questions by their field, and the element or motor whose work they ask about."),
        "faults": Key(Named(_FAULT), "What can be wrong."),
    },
)
