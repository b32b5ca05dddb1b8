/** What the findings of linear analysis say. */

import type { Wording } from '../language/wording.ts';

type Facts = Readonly<Record<string, string>>;

function words(brief: string, mend: string, help: string): Wording {
  return { brief, full: `${brief}; ${mend}`, help };
}

/** Finding id → its words, from the finding's facts. */
export const linearWording: Readonly<Record<string, (facts: Facts) => Wording>> = {
  unreachable: (f) =>
    words(
      `nothing leads from ${f.from} to ${f.to}`,
      'name ports that wires connect, or leave out a cut',
      'A linear model is that of the equations between two ports. True and false values carry no small change.',
    ),
  nothing_back: (f) =>
    words(
      `at this point of rest no change of ${f.from} reaches ${f.to}`,
      'hold what switches the way on, such as a mode (--hold gate.mode=enabled), or leave a limit',
      'A gate that is shut, a group that is switched off and a limit that acts let no small change through.',
    ),
  no_rest: (f) =>
    words(
      `there is no point of rest: ${f.what} goes on changing`,
      'hold something else (--hold PORT=VALUE), or give start values closer to it',
      'The model is taken where everything that matters stands still. Newton’s method looks for that point from the start values, with what is held held.',
    ),
  not_smooth: () =>
    words(
      'a derivative at this point of rest, or what becomes of it over a period, is not a finite number',
      'hold the sheet at a point where its equations are smooth',
      'A root at 0 or a division by 0 has no linear model there; what grows beyond all numbers within a period has none either.',
    ),
  period_long: (f) =>
    words(
      `the rates repeat only after ${f.period} ticks, and ${f.most} is the most that is looked at`,
      'choose rates that divide one another',
      'A sheet of several rates is analysed over the period after which all of them repeat.',
    ),
  too_many_states: (f) =>
    words(
      `the model would have ${f.count} states and inputs, and ${f.most} is the most`,
      'cut the part of interest out, or shorten delays',
      'Every memory, every place of a delay line and every continuous state is one.',
    ),
  bad_hold: (f) =>
    words(
      `“${f.value}” is no value for this`,
      'write a number, an expression with units, true, false or the name of a mode',
      'What is held is written as a setting is.',
    ),
  hold_setting: () =>
    words(
      'a setting is not held',
      'put it with --set BLOCK.SETTING=VALUE',
      'Settings are what they are; ports, states and memories can be held at a point of rest.',
    ),
  which_element: (f) =>
    words(
      `this has ${f.size} elements`,
      'name one of them, such as PORT[1]',
      'A response leads from one number to another.',
    ),
  not_excited: () =>
    words(
      'a state or memory is not excited from outside',
      'name an input or an output of a block',
      'An excitation adds to what a wire carries.',
    ),
  no_loops: () =>
    words(
      'no loop is found: nothing that an actuator does comes back to its command',
      'name a wire with --cut PORT, or close a loop through the plant',
      'A loop leads from an actuator through the plant and the sensors back to the actuator’s command.',
    ),
  cut_nothing: () =>
    words(
      'there is no wire here to cut',
      'name an input that a wire feeds, or an output that something reads',
      'A loop is opened at one wire, seen from what reads it.',
    ),
};
