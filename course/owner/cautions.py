"""What is said at a car before anything else: who comes first, the way to stop, cautions, and a start that fails."""

from __future__ import annotations

from graders.exercises.kinds.own_engine_advice import FIRST as FIRST

STOP = (
    "To stop the engine: ignition off. Before it is started everybody knows where the switch is, and one person stays "
    "at it."
)
STOP_FOR = (
    "Stop at once for a ping or knock, the oil or temperature lamp, a smell or a drip of fuel, a belt or fan that "
    "touches something, and anybody who comes near."
)
CAUTIONS = (
    "Exhaust is poison: outdoors, or with extraction that works. A hot exhaust sets dry grass alight: bare ground.",
    "Parking brake on, wheels chocked, neutral or park, nobody in front of the vehicle, nobody under it on its jack.",
    "Nobody touches a chock while the engine runs.",
    "Hands, hair, sleeves and cords clear of fan, belts and pulleys; hot parts and the coil's voltage hurt.",
    "Under a timing light, fan, belts and pulley look as if they stood still. Nobody stands in the plane of the fan.",
    "Eye protection on. No flame and no sparks near fuel or battery.",
    "Air cleaner on before the starter turns; no hand, sleeve or face over an open carburettor.",
    "A reading in gear needs a second person on the brake; a speed held above the idle needs one in the seat, in park "
    "or neutral.",
    "Local law decides what may be changed where there are emission controls; licensed practice comes first.",
)
NOT_STARTING = (
    "Starter: after ten seconds, half a minute's rest. No ether, no fuel poured in.",
    "Coil lead out of the cap: clipped to earth, never open. The spanner is off the crank before the starter is used.",
    "Jump leads on negative-earth vehicles, both engines off: red to the flat battery's plus, red to the good one's "
    "plus, black to the good one's minus, last black to bare metal of the engine with the flat battery, away from the "
    "battery. Off in reverse. Positive earth: the maker's book.",
    "Charger: switched off, red to plus, then black to bare metal away from the battery. Off again before the clips "
    "come off, black first.",
)
