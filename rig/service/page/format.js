// Numbers and times as text.

const clock = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit" });
const seconds = new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", second: "2-digit" });
const day = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short" });
const year = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short", year: "numeric" });

/** 21:40 of today, else with the day, else with the year. */
export function when(iso, now = new Date()) {
  const time = new Date(iso);
  if (!iso || isNaN(time)) return "";
  if (time.toDateString() === now.toDateString()) return clock.format(time);
  const date = time.getFullYear() === now.getFullYear() ? day : year;
  return `${date.format(time)}, ${clock.format(time)}`;
}

export function clock_time(date) { return seconds.format(date); }

/** A span of time as somebody would say it: 8 s, 1 min 20 s, 2 h 5 min. */
export function span(s) {
  const whole = Math.max(0, Math.round(s));
  if (whole < 60) return `${whole} s`;
  if (whole < 3600) return `${Math.floor(whole / 60)} min ${whole % 60} s`;
  return `${Math.floor(whole / 3600)} h ${Math.floor((whole % 3600) / 60)} min`;
}

export function size(bytes) {
  if (bytes === null || bytes === undefined || bytes <= 0) return "";
  return bytes < 1024 ? `${bytes} B` : `${(bytes / 1024).toFixed(1)} KiB`;
}

export function volts(v) {
  return `${Math.abs(v) < 9.995 ? v.toFixed(2) : v.toFixed(1)} V`;
}

/** Which multiple of a base unit suits numbers of this size: 0.022 s is shown in ms. */
export function scale_for(unit, magnitude) {
  if (!["s", "V", "Hz"].includes(unit) || !(magnitude > 0)) return { factor: 1, unit };
  if (magnitude < 1e-3) return { factor: 1e6, unit: `µ${unit}` };
  if (magnitude < 1) return { factor: 1e3, unit: `m${unit}` };
  if (unit === "Hz" && magnitude >= 1e4) return { factor: 1e-3, unit: "kHz" };
  return { factor: 1, unit };
}

/** A number with five digits, without a tail of noughts. */
export function number(value) {
  if (value === null || value === undefined || !isFinite(value)) return "";
  return String(Number(value.toPrecision(5)));
}

/** A number with its unit. */
export function quantity(value, unit) {
  if (value === null || value === undefined) return "";
  const scale = scale_for(unit, Math.abs(value));
  return `${number(value * scale.factor)} ${scale.unit ?? ""}`.trim();
}

const in_words = (entries) => entries.map(([name, value]) => `${name} ${value}`).join(", ");

/** The settings that tell an item from its like: "mode tied, waveform saw". */
export function choice(item) {
  return in_words(Object.entries(item.telling ?? item.settings ?? {}));
}

/** Items with only those settings left in `telling` that differ among them; `same` says the others in words. */
export function told_apart(items) {
  const values = new Map(), all = items.map((i) => Object.entries(i.telling ?? i.settings ?? {}));
  for (const [name, value] of all.flat()) values.set(name, (values.get(name) ?? new Set()).add(value));
  const differs = ([name]) => values.get(name).size > 1 || all.some((a) => a.length && !a.some(([n]) => n === name));
  return { items: items.map((item, i) => ({ ...item, telling: Object.fromEntries(all[i].filter(differs)) })),
           same: in_words((all.find((a) => a.length) ?? []).filter((e) => !differs(e))) };
}

/** A reading's full name: "slide, time constant (mode tied, waveform saw)". */
export function reading_name(item) {
  const settings = choice(item);
  return `${item.check}, ${item.name}${settings ? ` (${settings})` : ""}`;
}

/** 1 run, 2 runs. */
export function count(n, one, many = `${one}s`) {
  return `${n} ${n === 1 ? one : many}`;
}
