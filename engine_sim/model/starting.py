"""Starting: whether a cranked engine fires, catches, runs up, dies again or kicks, and what the starter has to give.

Two states carry the fuel. The *film* is the vapour that reaches the cylinders, over what a warm carburettor meters:
each turn of the crank carries fuel on, and only a share of it vaporises when cold. The *bowl* is how far the float bowl
is full. A charge burns once the film is rich enough; while the starter turns, a later spark needs a richer film.

No outside value was found for the time in which a carburetted engine starts, nor for how late timing lengthens it. All
constants are calibrations unless they say otherwise; the lengthening by late timing is a calibration of the catch, and
not physics.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from engine_sim.physics.ignition import CRANKING_VOLT
from engine_sim.physics.knock import OCTANE_EXPONENT

# ---- fuel
FIRES_FROM_FILM = 0.50  # leaner, no charge burns
FIRES_FULLY_FILM = 0.60  # from here on all do
EARLY_ENOUGH_DEG = 8.0  # crank degrees BTDC, from which a charge needs no richer film
FILM_PER_LATE_DEG = 0.029  # so much richer it must be for each degree later, while the starter turns
FILM_SETTLED = 0.985  # from here on it no longer limits anything
FILM_TURNS_WARM = 1.5  # turns of the crank in which the film grows, warm
FILM_TURNS_COLD = 3.5  # turns added to that at 0 °C
FILM_LEFT_HOT = 0.3  # what a hot inlet keeps while the engine stands
FILM_LEFT_FROM_C = 40.0  # coolant temperature from which an inlet keeps any
FILM_LEFT_FULLY_C = 90.0  # at which it keeps FILM_LEFT_HOT
FILM_DRIES_S = 60.0  # in which the rest of it dries
CHOKE_OFF_C = 65.0  # coolant temperature from which the choke is off
VAPOUR_AT_0_C = 0.35  # share of the metered fuel that vaporises at 0 °C without the choke
NEEDS_CHOKE_BELOW_C = 50.0  # warmer, all of it does
JETS_COVERED_FROM = 0.5  # share of a full bowl below which its jets draw air
BOWL_FILLS_TURNS = 40.0  # turns of the crank in which the fuel pump fills an empty bowl
STROKE_COLD = 0.15  # what one stroke of the accelerator pump adds to the film at 0 °C
STROKE_HOT = 0.30  # the same in a hot inlet, where all of it vaporises
STROKE_EMPTIES = 0.02  # share of the bowl that a stroke takes
FLOOD_PER_EXCESS = 0.7  # how wet the plugs get for each part of film beyond what the air can burn
CLEARING_TURNS = 14.0  # turns of the crank, throttle held open, that air a flooded engine
CLEARS_FROM_THROTTLE = 0.7  # share of full travel from which it is aired
RUNNING_DRIES_TURNS = 60.0  # turns under its own power in which an engine that runs dries its plugs
FLOOD_DRIES_S = 1800.0  # in which wet plugs dry while the engine stands
# ---- hot soak
BOWL_ABOVE_AMBIENT_K = 15.0  # of the bowl while fuel flows through it
BOWL_FOLLOWS_BLOCK = 0.8  # share of the block's heat that reaches it while the engine stands
BOWL_SOAKS_S = 400.0  # in which it does
BOILS_FROM_C = 52.0  # in the bowl: the light parts of petrol leave it
BOILS_AWAY_PER_K_S = 6.0e-5  # share of a bowl, for each kelvin above that and second
BOILED_DOWN_TO = 0.4  # of a bowl: what then is left has no light parts
FLOOD_PER_BOWL = 0.6  # how wet the plugs get for each bowl that boils into the inlet
NEXT_TO_NOTHING = 0.002  # of film or flood, which then counts as dry
STAND_STEP_S = 0.2  # in which a standing engine is carried forward; all of it is slow
# ---- starter and battery
STARTER_STALL_NM_PER_LITRE = 40.0  # at the crank, for each litre of the engine; common practice
STARTER_FREE_RPM = 235.0  # of the crank, where the starter has nothing left to give; common practice
STARTER_WARMS_K_S = 5.0  # its windings, while it turns
STARTER_COOLS_S = 90.0  # in which they cool
STARTER_COLD_K = 5.0  # so little above a cold one counts as cold
COPPER_PER_K = 0.00393  # rise of copper's resistance at 20 °C; from memory: IEC 60028
WINDINGS_SHARE = 0.5  # of the circuit's resistance
BATTERY_FALLS_PER_S = 0.0025  # share of the starter's torque, for each second of cranking
BATTERY_CHARGES_PER_S = 0.001  # the same, while the engine runs
RUNNING_FROM_RPM = 450.0  # from here on the engine runs by itself and the key is let go
# ---- kick
CARRIES_RAD = 0.05  # of the crank, over which a starter that is held up gives its stall torque to carry a piston over
KICKED_TO = 0.3  # share of the speed that is left when a charge throws the starter back
LABOURS_FROM = 0.5  # share of that work that a charge takes, from which the starter labours
LABOUR_SLOWS = 0.15  # share of the speed that the hardest labour costs
BURNS_LATER_COLD_DEG = 8.0  # crank degrees by which a cold charge's work before the top lags a hot one's
KICK_HOT_C = 90.0  # coolant temperature at which it lags no more
KICK_COLD_C = 20.0  # at which it lags by all of that
# ---- running on without a spark
RUNS_ON_FROM_C = 75.0  # coolant temperature below which nothing in the chamber glows
RUNS_ON_FULLY_C = 95.0
RUNS_ON_FROM_AIR = 1.35  # throttle area over that of the specified idle, from which a charge lights itself
RUNS_ON_FULLY_AIR = 1.80
RUNS_ON_WORK = 0.5  # most of a charge's work that is then done
GLOW_FADES_S = 6.0  # in which what glows cools, once the ignition is off


@dataclass
class Starting:
    """What starting carries forward."""

    film: float = 0.0  # vapour that reaches the cylinders over what the carburettor meters when warm
    flood: float = 0.0  # 0 dry enough to fire, 1 plugs wet
    bowl: float = 1.0  # share of a full float bowl
    battery: float = 1.0  # share of the starter's torque that the battery gives
    starter_above_k: float = 0.0  # of its windings over a cold one's
    stood_s: float = 0.0  # since the crank last turned
    pending_s: float = 0.0  # of standing that is not yet carried out
    glow: float = 0.0  # of what is hot in the chambers, 1 as after running
    turns: float = 0.0  # of the crank since standstill
    kicks: int = 0  # since standstill
    labour: float = 0.0  # work before the top of the last charge over what throws the starter back
    settled: bool = False  # the engine runs, and nothing of its start is left to change
    rested: bool = False  # the engine stands, and nothing of all this changes any more

    def pump(self, stroke: float, coolant_c: float, runs: bool) -> None:
        """Open the throttle by a share of its travel: the accelerator pump squirts. In an engine that does not run, too
        much of it wets the plugs."""
        if self.bowl < JETS_COVERED_FROM:
            return
        hot = share(coolant_c, 0.0, FILM_LEFT_FULLY_C)
        rich = self.film + stroke * (STROKE_COLD + (STROKE_HOT - STROKE_COLD) * hot)
        self.settled = self.rested = False
        self.bowl -= STROKE_EMPTIES * stroke
        self.film = min(rich, 1.0)
        if not runs:
            self.flood = min(self.flood + FLOOD_PER_EXCESS * (rich - self.film), 1.0)

    def stand(self, coolant_c: float, ambient_c: float, dt: float) -> None:
        """Let an engine that does not turn stand for a time [s]: the inlet dries, the starter cools, and a hot block
        boils fuel out of the bowl into the inlet."""
        if self.stood_s == 0.0:
            self.turns = self.labour = self.glow = 0.0
            self.kicks, self.settled, self.rested = 0, False, False
        if self.rested:
            return
        self.stood_s += dt
        self.pending_s += dt
        if self.pending_s < STAND_STEP_S:
            return
        dt, self.pending_s = self.pending_s, 0.0
        self.film += (film_left(coolant_c) - self.film) * min(dt / FILM_DRIES_S, 1.0)
        self.flood -= self.flood * min(dt / FLOOD_DRIES_S, 1.0)
        self._cool_starter(dt)
        if coolant_c <= FILM_LEFT_FROM_C:
            self.film, self.flood = _dried(self.film), _dried(self.flood)
            self.rested = self.film == self.flood == self.starter_above_k == 0.0
        if coolant_c <= BOILS_FROM_C or self.bowl <= BOILED_DOWN_TO:
            return
        above_k = self.bowl_c(coolant_c, ambient_c) - BOILS_FROM_C
        if above_k > 0.0:
            boiled = BOILS_AWAY_PER_K_S * above_k * dt
            self.bowl -= boiled
            self.flood = min(self.flood + FLOOD_PER_BOWL * boiled, 1.0)

    def bowl_c(self, coolant_c: float, ambient_c: float) -> float:
        """Temperature of the fuel in the bowl of a standing engine [°C]."""
        soaked = 1.0 - math.exp(-self.stood_s / BOWL_SOAKS_S)
        block_k = BOWL_FOLLOWS_BLOCK * max(coolant_c - ambient_c, 0.0)
        cool_k = min(BOWL_ABOVE_AMBIENT_K, block_k)
        return ambient_c + cool_k + soaked * (block_k - cool_k)

    def turn(
        self, turns: float, coolant_c: float, throttle: float, choke_stuck_open: bool, cranking: bool, dt: float
    ) -> None:
        """Turn the crank for a time [s]: fuel flows, wet plugs dry, and starter and battery tire or recover."""
        self.turns += turns
        self.stood_s = 0.0
        if self.bowl < 1.0:
            self.bowl = min(self.bowl + turns / BOWL_FILLS_TURNS, 1.0)
        if self.film < FILM_SETTLED or choke_stuck_open:
            most = most_film(coolant_c, choke_stuck_open) if self.bowl >= JETS_COVERED_FROM else 0.0
            cold = share(CHOKE_OFF_C - coolant_c, 0.0, CHOKE_OFF_C)
            self.film += (most - self.film) * -math.expm1(-turns / (FILM_TURNS_WARM + FILM_TURNS_COLD * cold))
        if self.flood:
            dries = turns / CLEARING_TURNS if throttle >= CLEARS_FROM_THROTTLE else 0.0
            if not cranking:
                dries = max(dries, turns / RUNNING_DRIES_TURNS)
            self.flood = max(self.flood - dries, 0.0)
        if cranking:
            self.starter_above_k += STARTER_WARMS_K_S * dt
            self.battery = max(self.battery - BATTERY_FALLS_PER_S * dt, 0.0)
            return
        self.battery = min(self.battery + BATTERY_CHARGES_PER_S * dt, 1.0)
        self._cool_starter(dt)
        fuelled = self.film >= FILM_SETTLED and self.bowl == 1.0 and not self.flood and not choke_stuck_open
        self.settled = fuelled and self.battery == 1.0 and not self.starter_above_k

    def _cool_starter(self, dt: float) -> None:
        cooled_k = self.starter_above_k * (1.0 - min(dt / STARTER_COOLS_S, 1.0))
        self.starter_above_k = cooled_k if cooled_k > STARTER_COLD_K else 0.0

    def fires_share(self, spark_deg: float, cranking: bool) -> float:
        """Share of a charge's work that is done for want of fuel or for too much of it; spark in crank degrees BTDC."""
        fires = 1.0
        if cranking or self.film < FIRES_FULLY_FILM:
            late = FILM_PER_LATE_DEG * max(EARLY_ENOUGH_DEG - spark_deg, 0.0) if cranking else 0.0
            fires = share(self.film, FIRES_FROM_FILM + late, FIRES_FULLY_FILM + late)
        return fires * (1.0 - self.flood) ** 2 if self.flood else fires

    def starter_nm(self, litres: float, speed_rpm: float) -> float:
        """Torque of the starter at the crank [N m]: a straight line of speed, less with a flat battery or warm
        windings."""
        warm = 1.0 + COPPER_PER_K * WINDINGS_SHARE * self.starter_above_k
        torque_nm = STARTER_STALL_NM_PER_LITRE * litres * max(1.0 - speed_rpm / STARTER_FREE_RPM, 0.0)
        return torque_nm * self.battery / warm

    @property
    def cranking_volt(self) -> float:
        """What the starter leaves of the battery's voltage for the coil [V]; by the root of its torque. Calibration."""
        return CRANKING_VOLT * math.sqrt(self.battery)

    def passed(self, extra_j: float, litres: float) -> float:
        """Share of its speed that the crank keeps when a piston has passed its top while the starter turned.

        `extra_j` is the work that its burning charge asked for before top dead centre beyond plain compression [J].
        """
        carries_j = CARRIES_RAD * self.starter_nm(litres, 0.0)
        self.labour = extra_j / carries_j if carries_j > 0.0 else 0.0
        if self.labour <= 1.0:
            return 1.0 - LABOUR_SLOWS * share(self.labour, LABOURS_FROM, 1.0)
        self.kicks += 1
        return KICKED_TO

    def runs_on_share(self, coolant_c: float, relative_area: float, relative_octane: float, dt: float) -> float:
        """Share of a charge's work that is done without a spark, in a hot engine whose throttle stands open.

        `relative_area` is the throttle's area over that of the specified idle; a late spark needs a wider throttle for
        the same idle, so it runs on more readily. `relative_octane` is the fuel's octane number over that of the fuel
        that the engine is meant for: by it an unlit charge takes longer to light. Source: douaud_eyzat_1978.
        """
        self.glow -= self.glow * min(dt / GLOW_FADES_S, 1.0)
        hot = share(coolant_c, RUNS_ON_FROM_C, RUNS_ON_FULLY_C)
        relative_air = relative_area * relative_octane**-OCTANE_EXPONENT
        return RUNS_ON_WORK * self.glow * hot * share(relative_air, RUNS_ON_FROM_AIR, RUNS_ON_FULLY_AIR)


def under_way() -> Starting:
    """The state of an engine that has been running for a while."""
    return Starting(film=1.0, glow=1.0, settled=True)


def _dried(amount: float) -> float:
    """The same, or nothing where it is next to nothing."""
    return amount if amount > NEXT_TO_NOTHING else 0.0


def film_left(coolant_c: float) -> float:
    """Film that an inlet keeps while the engine stands."""
    return FILM_LEFT_HOT * share(coolant_c, FILM_LEFT_FROM_C, FILM_LEFT_FULLY_C)


def most_film(coolant_c: float, choke_stuck_open: bool) -> float:
    """Film that a turning engine comes to: all that is metered, unless the choke is missing in the cold."""
    if not choke_stuck_open:
        return 1.0
    return VAPOUR_AT_0_C + (1.0 - VAPOUR_AT_0_C) * share(coolant_c, 0.0, NEEDS_CHOKE_BELOW_C)


def burns_later_deg(coolant_c: float) -> float:
    """How much later than in a hot engine the work of a charge before top dead centre sets in [crank degrees]."""
    return BURNS_LATER_COLD_DEG * share(KICK_HOT_C - coolant_c, 0.0, KICK_HOT_C - KICK_COLD_C)


def share(value: float, low: float, high: float) -> float:
    """How far a value has come from low to high, 0 to 1."""
    if value <= low:
        return 0.0
    return 1.0 if value >= high else (value - low) / (high - low)
