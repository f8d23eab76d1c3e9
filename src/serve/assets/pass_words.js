// The words of a pass of the bait over a mark.

export const passWords = {
  title: (name) => `BAIT OVER ${name.toUpperCase()}`,
  mark: (number) => `mark ${number}`,
  state: { offered: "a plan", accepted: "accepted", under_way: "under way", passed: "passed" },
  leg: (side, degrees, later) => `${later ? "THEN " : ""}TURN ${side === "port" ? "PORT" : "STARBOARD"} ${degrees}°`,
  rate: (rate) => `${rate.toFixed(1)}°/s`,
  when: (s) => (s > 0 ? `in ${s}\u00a0s` : "now"),
  hold: (degrees) => `Then hold ${degrees}.`,
  straight: (degrees) => `HOLD ${degrees}`,
  speed: (kn) => `AT ${kn} KN`,
  over: "Bait at the mark",
  closest: (far) => `, about ${far} from it`,
  chance: (n) => `Within 15 m of it and skipping: ${n} of 100.`,
  unlikely: "NOT LIKELY",
  none: "NO PASS",
  helps: (what) => `What would help: ${what}.`,
  accept: "ACCEPT: ANNOUNCE THE TURN",
  decline: "NO, THANKS",
  end: "END THE PASS",
  caution: "The look-out and the chart decide: this plan knows no traffic, no depth and no land.",
  said: { accept: "Pass accepted", decline: "Pass declined", end: "Pass ended" },
};
