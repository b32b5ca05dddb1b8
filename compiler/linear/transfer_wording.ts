/** What the findings about transfer functions and loops made of them say. */

import type { Wording } from '../language/wording.ts';

type Facts = Readonly<Record<string, string>>;

function words(brief: string, mend: string, help: string): Wording {
  return { brief, full: `${brief}; ${mend}`, help };
}

/** Finding id → its words, from the finding's facts. */
export const transferWording: Readonly<Record<string, (facts: Facts) => Wording>> = {
  transfer_empty: () =>
    words(
      'there are no coefficients',
      'give them in descending powers, such as 1,2,10',
      'A polynomial is a list of its coefficients, that of the highest power first; 1,2,10 is s² + 2s + 10.',
    ),
  transfer_not_finite: () =>
    words(
      'a coefficient is not a finite number',
      'give finite numbers only',
      'A coefficient that is not a number or without end would make every result meaningless.',
    ),
  transfer_too_long: (f) =>
    words(
      `there are more than ${f.most} coefficients`,
      'give the system in parts of lower order',
      'Polynomials of very high order say less and less about their roots with the digits a number has.',
    ),
  transfer_bad_step: (f) =>
    words(
      `${f.given} is no time between samples`,
      'give a time above 0, or 0 for a system in s',
      'A system in z needs the time between its samples; without one, coefficients are those of powers of s.',
    ),
  transfer_bad_delay: (f) =>
    words(
      `${f.given} is no dead time`,
      'give a time of 0 or more',
      'A dead time delays; a negative one would answer before it is asked.',
    ),
  transfer_no_denominator: () =>
    words(
      'the denominator is 0',
      'give it a coefficient other than 0',
      'A transfer function divides by its denominator, so that cannot be 0 everywhere.',
    ),
  transfer_no_gain: () =>
    words(
      'the numerator is 0, so nothing comes through',
      'give it a coefficient other than 0',
      'With no gain at all there is no loop: nothing crosses over, and closing it changes nothing.',
    ),
  transfer_improper: (f) =>
    words(
      `the numerator has power ${f.num} of ${f.variable} and the denominator only ${f.den}`,
      f.variable === 'z'
        ? 'delay the numerator by that many samples'
        : 'add poles that are faster than all else, as many as there are powers too many',
      'Such a system would have to answer before it is asked, or without bound to fast changes; nothing that is built does.',
    ),
  loop_delay_not_whole: (f) =>
    words(
      `the dead time of ${f.delay} s is not a whole number of samples of ${f.dt} s`,
      'make it whole, or put the rest into the system before it is discretised',
      'Between samples a system in z says nothing, so a part of a sample of dead time belongs to what is sampled.',
    ),
  loop_without_answer: () =>
    words(
      'the gain that goes straight through is exactly −1, so the closed loop has no answer',
      'change the gain, or put a delay or a lag into the loop',
      'At infinite frequency 1 + L is 0 then: what comes back is what was put in, whatever that is.',
    ),
  closed_with_delay: () =>
    words(
      'a loop with dead time has no closed form as a transfer function',
      'leave the dead time out, or discretise the system with it',
      'With dead time in the loop the closed loop has endlessly many poles, which no quotient of two polynomials has.',
    ),
  loop_on_the_edge: (f) =>
    words(
      `the loop is exactly on the edge of stability: L is −1 at ${f.at} rad/s`,
      'change the gain a little to either side',
      'Where the response passes through −1 it goes around it neither once nor not at all, so there is nothing to count.',
    ),
  discrete_not_continuous: () =>
    words('the system is already one in z', 'give one in s', 'A discrete equivalent is made of a system in s.'),
  discrete_bad_step: (f) =>
    words(
      `${f.given} is no time between samples`,
      'give a time above 0',
      'A discrete equivalent answers once every sample.',
    ),
  discrete_pole_at_infinity: (f) =>
    words(
      `a pole lies at ${f.at} rad/s, where this method puts it at infinity`,
      'change the time between samples, or take another method',
      'Tustin’s method takes s = 2/T to infinity and the backward difference takes s = 1/T there: with a pole in that place the result would have to answer before it is asked.',
    ),
  discrete_bad_prewarp: (f) =>
    words(
      `${f.given} rad/s cannot be met at this time between samples`,
      `take a frequency above 0 and below ${f.most} rad/s`,
      'Prewarping makes the equivalent exact at one frequency, which must lie below half the sampling frequency.',
    ),
  discrete_beyond_numbers: () =>
    words(
      'the discrete equivalent has coefficients beyond all numbers',
      'sample faster',
      'A fast unstable pole grows so much from one sample to the next that no number holds it.',
    ),
  response_on_a_pole: (f) =>
    words(
      `the response is infinite at ${f.at} rad/s, where a pole lies`,
      'ask beside it',
      'On the edge of stability a pole makes the response grow without end as its frequency is approached; at it there is no value.',
    ),
  locus_bad_gain: (f) =>
    words(
      `${f.given} is not a finite gain`,
      'give finite numbers',
      'Closed-loop poles are found at each gain by itself.',
    ),
};
