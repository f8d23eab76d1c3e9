// Loads in the crew's unit of weight.

import { boat } from "./link.js";

const POUND_KG = 0.45359237;
const KILOGRAM_FORCE_N = 9.80665;

export const weightUnit = () => boat.state?.units.weight ?? "kg";

/** Kilograms in the crew's unit, with so many figures. */
export const kilograms = (kg, figures = 3) =>
  `${Number((kg / (weightUnit() === "lb" ? POUND_KG : 1)).toPrecision(figures))}\u00a0${weightUnit()}`;

/** Newtons likewise. */
export const newtons = (n, figures = 3) => kilograms(n / KILOGRAM_FORCE_N, figures);
