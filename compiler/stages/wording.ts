/** What the stages' findings say: what is wrong, what would mend it, and a paragraph of help. */

import type { Wording } from '../language/wording.ts';

type Facts = Readonly<Record<string, string>>;

function words(brief: string, mend: string, help: string): Wording {
  return { brief, full: `${brief}; ${mend}`, help };
}

/** “did you mean” for a list of near names. */
function near(facts: Facts, otherwise: string): string {
  const { nearest } = facts;
  return nearest === undefined || nearest === '' ? otherwise : `the nearest is ${nearest.split(', ').join(' or ')}`;
}

const HERTZ =
  'One hertz is one turn a second, and a turn is 2π radians: a corner in rad/s is 2π times the same corner in Hz. Mixing the two shifts every corner by 6.28, so it is never done silently.';

/** Finding id → its words, from the finding's facts. */
export const stageWording: Readonly<Record<string, (facts: Facts) => Wording>> = {
  unknown_block: (f) =>
    words(
      `there is no block “${f.name}” on the shelf`,
      near(f, 'look for it on the shelf line, or write it as a block of your own'),
      'Blocks are found on the sheet’s own shelf first, then in the library. A block that was renamed or removed leaves its places on the sheet without equations.',
    ),
  group_in_itself: (f) =>
    words(
      `the group “${f.name}” contains itself`,
      'take it out of itself',
      'A group is drawn out into its blocks; one that contains itself would never end.',
    ),
  groups_too_deep: (f) =>
    words(
      `groups stand inside groups more than ${f.limit} deep`,
      'draw some of them side by side',
      'Every depth makes names and conditions longer. Sheets are bounded, so that one from elsewhere cannot stall the program.',
    ),
  too_many_blocks: (f) =>
    words(
      `drawn out, the sheet has more than ${f.limit} ${f.what}`,
      'use fewer copies of its groups',
      'A group in a group in a group multiplies its blocks. Sheets are bounded, so that one from elsewhere cannot stall the program.',
    ),
  unknown_setting: (f) =>
    words(
      `“${f.block}” has no setting “${f.name}”`,
      near(f, 'remove it'),
      'A setting’s name must be one that the block declares with `set` or `build`; on a group, it is the path to a block inside it.',
    ),
  name_clash: (f) =>
    words(
      `two things here are called “${f.name}”`,
      'give one of them another name',
      'Ports, blocks, memories and settings share one set of names, so that each can be recorded and wired without doubt.',
    ),
  unknown_input_kind: (f) =>
    words(
      `“${f.block}” knows no inputs of kind “${f.kind}”`,
      f.kinds === '' ? 'it takes no inputs of your naming' : `its kinds are ${f.kinds}`,
      'Blocks with open-ended inputs say which kinds they take: a summing point takes + and -, a gate takes reasons and trips.',
    ),
  unreadable_wire: (f) =>
    words(
      `“${f.wire}” is no input`,
      'write BLOCK.INPUT',
      'A wire is keyed by the input it feeds and holds the output it comes from: "tilt.angle": "imu.tilt".',
    ),
  unknown_place: (f) =>
    words(
      `there is no “${f.name}” here`,
      near(f, 'remove what points to it'),
      'A name on a wire, a nudge or a setting must be that of a block or port on the same sheet or group.',
    ),
  unknown_input: (f) =>
    words(
      `“${f.block}” has no input “${f.name}”`,
      near(f, 'remove the wire, or name the input on the block'),
      'An input’s name is one that the block declares, or, for open-ended inputs, one that the sheet gives it under `inputs`.',
    ),
  unknown_output: (f) =>
    words(
      `there is no output “${f.name}”`,
      near(f, 'remove the wire'),
      'A wire comes from an output of a block on the same sheet or group, or from an input port of the group it stands in.',
    ),
  bad_tick: (f) =>
    words(
      `“${f.value}” is no tick`,
      'write a time such as 5 ms',
      'The tick is the base period of the whole sheet; every block runs on each tick or on every n-th.',
    ),
  wrong_build: (f) =>
    words(
      `“${f.setting}” cannot be ${f.value}`,
      `write ${f.wanted}`,
      'A build setting says what a block is built like: a size, a method, a file. Changing it compiles anew.',
    ),
  not_finite: (f) =>
    words(
      `this comes to no finite number (${f.operation}${f.value === undefined ? '' : ` in ${f.value}`})`,
      'look for a division by zero, a root of a negative number or a number too large',
      'Settings and what is computed from them must be finite numbers, so that nothing without meaning can reach the program.',
    ),
  unreadable_value: (f) =>
    words(
      `“${f.value}” cannot be read`,
      'write a number with its unit, or an expression of names on the sheet',
      'A setting is a finite number in SI units, or an expression such as 2 * stiffness or 5 deg.',
    ),
  circular_name: (f) =>
    words(
      `“${f.name}” is defined by itself`,
      'give one of the names on the way a number',
      'The sheet’s names may use each other, and so may a block’s lets, but not in a circle.',
    ),
  unknown_name: (f) =>
    words(
      `nothing here is called “${f.name}”`,
      near(f, 'declare it, or write its number'),
      'An equation reads the block’s own names; a setting on the sheet reads the sheet’s `names`.',
    ),
  units_disagree: (f) =>
    words(
      `the units${f.value === '' || f.value === undefined ? '' : ` in “${f.value}”`} do not agree`,
      'bring both sides of every sum and comparison to one unit',
      'Only quantities of the same unit can be added or compared.',
    ),
  too_large: (f) =>
    words(
      `this has more than ${f.limit} values`,
      'make it smaller',
      'Sizes are bounded, so that a sheet from elsewhere cannot stall the program. Long tables belong in a CSV file.',
    ),
  block_too_large: (f) =>
    words(
      `this comes to more than ${f.limit} operations`,
      'make its vectors and repetitions smaller, or part it into several blocks',
      'Whatever repeats is written out, an operation for each element, so that a tick always takes the same time; a repetition inside a repetition multiplies. The bound keeps a sheet from elsewhere from stalling the program, and few boards could run as many operations in a tick.',
    ),
  sheet_too_large: (f) =>
    words(
      `the sheet comes to more than ${f.limit} operations; ${f.operations} are those of “${f.largest}”`,
      'make its vectors and repetitions smaller, or use fewer copies of its groups',
      'Every block on the sheet is written out, an operation for each element. The bound keeps a sheet from elsewhere from stalling the program.',
    ),
  too_much_kept: (f) =>
    words(
      `memories and delay lines keep more than ${f.limit} numbers`,
      'make them shorter, or let their blocks run on fewer ticks',
      'A delay line keeps a number for each of its ticks, and a board has to hold them all. The bound keeps a sheet from elsewhere from filling the memory.',
    ),
  ragged_matrix: () =>
    words(
      'the rows of this matrix differ in length',
      'give each row as many numbers',
      'A matrix has the same number of columns in every row.',
    ),
  bad_size: (f) =>
    words(
      `“${f.setting}” would have ${f.size} values`,
      'give the block settings of a sensible length',
      'Sizes come from the lengths of settings, from build settings and from the wires.',
    ),
  wrong_size: (f) =>
    words(
      `${f.wanted} is wanted, ${f.got} is given`,
      'bring both to one size',
      'Vectors and matrices fit only their like; a single number goes with every element.',
    ),
  wrong_type: (f) =>
    words(
      `${f.wanted} is wanted, ${f.got} is given`,
      'convert it, or take another value',
      'Numbers, whole numbers and yes-or-no values are different things: real(i), int(x) and comparisons lead from one to the other.',
    ),
  outside_bounds: (f) =>
    words(
      `“${f.setting}” is ${f.value}`,
      `it must be ${f.bound}`,
      'The block’s equations hold only within the bounds it declares.',
    ),
  phase_outside: (f) =>
    words(
      `phase ${f.phase} is not one of the ${f.every} ticks`,
      `choose 0 to ${Number(f.every) - 1}`,
      'A block that runs every n ticks runs on the tick whose number leaves its phase when divided by n.',
    ),
  rate_too_slow: (f) =>
    words(
      `it would run every ${f.every} ticks, more than ${f.limit}`,
      'give it or the groups around it a smaller divider',
      'The dividers of groups inside groups multiply. Ticks are counted in 32 bits.',
    ),
  rates_do_not_fit: (f) =>
    words(
      `it would run every ${f.own} ticks but reads “${f.source}”, which runs every ${f.other}`,
      'say `every` on this block, or choose rates of which one is a multiple of the other',
      'A block that says no rate takes that of its fastest input, when the others are whole multiples of it.',
    ),
  faster_than_group: (f) =>
    words(
      `it runs every ${f.own} ticks, its group every ${f.group}`,
      'say `every: 1` on it to run it with its group',
      'A group’s `every` multiplies what its blocks say. A block that says nothing takes the rate of its fastest input, even one from outside the group.',
    ),
  wire_across_shore: (f) =>
    words(
      `this wire leads from ${f.from} to ${f.to} (“${f.source}”)`,
      'put a sensor or an actuator between them, or say on which side the block stands',
      'What is simulated and what is exported meet only at sensors and actuators; anything else would be missing on the board.',
    ),
  loop_without_memory: (f) =>
    words(
      `these blocks wait for each other within one tick: ${f.blocks}`,
      'put a tick delay, or any block with memory, on the loop',
      'Within a tick every block runs after those it reads. A closed loop needs a memory on it, which gives the last tick’s value.',
    ),
  unconnected_input: (f) =>
    words(
      `“${f.input}” is not wired`,
      'wire it, or feed it with a fixed value',
      'An input without a default must take a value from an output.',
    ),
  index_outside: (f) =>
    words(
      `there is no element ${f.index} of ${f.size}`,
      'count from 1 to the size',
      'Elements of vectors count from 1.',
    ),
  wrong_wire_type: (f) =>
    words(
      `${f.wanted} is wanted here, “${f.source}” gives ${f.got}`,
      'put a block between them that makes one from the other',
      'A comparison makes a yes or no from a number; a choice makes a number from a yes or no.',
    ),
  wrong_wire_size: (f) =>
    words(
      `${f.wanted} fits here, “${f.source}” gives ${f.got}`,
      'take one element, as in imu.accel[1], or a block of the right size',
      'A vector line feeds only inputs of its own size.',
    ),
  units_in_block: (f) =>
    words(
      `the equation sets ${f.left} against ${f.right}`,
      f.cycles === undefined ? 'mend the equation or the declared units' : 'multiply by 2 * pi',
      f.cycles === undefined ? 'Every equation is checked: both sides must have one unit.' : HERTZ,
    ),
  unit_mismatch: (f) =>
    words(
      `${f.wanted} is wanted here, “${f.source}” gives ${f.got}`,
      f.cycles === undefined ? 'put a block between them that makes one from the other' : 'multiply by 2π between them',
      f.cycles === undefined ? 'A line carries the unit of its output; the input must take the same one.' : HERTZ,
    ),
  setting_unit_mismatch: (f) =>
    words(
      `${f.wanted} is wanted, “${f.value}” is in ${f.got}`,
      f.cycles === undefined ? 'give it in a unit that fits' : 'write 2 * pi times the number, in rad/s',
      f.cycles === undefined
        ? 'A bare number is taken in SI units of what fits; a number with a unit must fit.'
        : HERTZ,
    ),
  need_unmet: (f) =>
    words(
      `“${f.block}” needs this of its settings: ${f.words}`,
      'change the settings so that it holds',
      'Some equations make sense only for certain settings; the block says so itself.',
    ),
  no_such_file: (f) =>
    words(
      `there is no file “${f.file}” beside the sheet`,
      'put it there, or change the name',
      'Recorded numbers are read from a CSV file in the folder of the sheet; its first column is the time in seconds.',
    ),
  too_many_tasks: (f) =>
    words(
      `the layered schedule would have ${f.tasks} tasks, one a rate and phase, and ${f.limit} is the most`,
      'let more blocks share a rate, or choose the single schedule',
      'With the layered schedule each rate and phase is a task of its own, which a board runs at a priority of its own; more than a few are hard to analyse.',
    ),
  output_unread: (f) =>
    words(
      `nobody reads “${f.block}”`,
      'wire it, record it or remove it',
      'A block whose outputs lead nowhere does nothing; it may be left over from a change.',
    ),
  gate_without_stop: (f) =>
    words(
      `the gate “${f.block}” has no stop`,
      'wire its stop input to a button that is closed while all is well',
      'A stop must act whatever the program thinks. Wire it so that a broken wire stops too. This is no safety-rated function: local codes and a qualified person decide what the machine needs.',
    ),
  actuator_unguarded: (f) =>
    words(
      `no gate stands before the actuator “${f.block}”`,
      'put an arming gate before it, or silence this with the reason',
      'An actuator should stay neutral until the sensors have settled and somebody has asked for it, and return there when something trips.',
    ),
  block_changed: (f) =>
    words(
      `the library's “${f.name}” is not the one this sheet was made with`,
      'take it as it is now and run the bench again, or keep the old text on the sheet’s own shelf',
      f.difference === '' || f.difference === undefined
        ? 'The sheet keeps the hash of every library block it uses. The text it was made with is not in this library, so the difference cannot be shown; to keep it, put that text on the sheet’s own shelf.'
        : `The sheet keeps the hash of every library block it uses. What changed:\n${f.difference}`,
    ),
  arithmetic_changed: () =>
    words(
      'sin, exp and the other functions are not computed as when this sheet was made',
      'run the bench again, then take them as they are now',
      'The sheet keeps the hash of the arithmetic. A newer one differs in the last bits, so recorded runs and self-checks made before need not agree with it to the bit.',
    ),
  filter_off: (f) =>
    words(
      f.gain === undefined
        ? `in 32 bits a pole of “${f.block}” is off by ${f.moved} % of its distance from 1`
        : `in 32 bits “${f.block}” has a gain at rest of ${f.gain} instead of ${f.wanted}`,
      'use 64 bits, run it on fewer ticks, or make it of first- and second-order blocks',
      'Coefficients of a slow filter at a fast rate lie close together; rounded to 32 bits they can be those of another filter. Forms that keep a small difference as a number of its own, as the low-pass blocks do, survive; difference equations as written often do not. What is compared is the block as realised with the block as designed.',
    ),
  field_clash: (f) =>
    words(
      `“${f.other}” has the same name in the C: ${f.name}`,
      'rename one of the two blocks',
      'In the C, dots in names become underscores; two different names may then read alike.',
    ),
  not_whole: (f) =>
    words(
      `${f.value} is not whole`,
      'write a whole number',
      'Beside whole numbers a bare number must be whole; real(i) makes a real number of one.',
    ),
  not_an_element: (f) =>
    words(
      `“${f.name}” is no element of open-ended inputs`,
      'ask within [… for t in terms]',
      '`t is "+"` asks the kind of an open-ended input.',
    ),
  not_a_size: () =>
    words(
      'a size must be a whole number known before the program runs',
      'use numbers, build settings and size letters',
      'Sizes cannot change while a program runs.',
    ),
  wrong_product: (f) =>
    words(
      `${f.left} times ${f.right} is no product`,
      'match the columns of the first to the rows of the second',
      'Element by element, write [a[i] * b[i] for i to n].',
    ),
  wrong_argument_count: (f) =>
    words(
      `${f.name} is given ${f.got} value${f.got === '1' ? '' : 's'}`,
      f.wanted === undefined ? 'look up how many it takes' : `it takes ${f.wanted}`,
      'Functions take as many values as the language page says.',
    ),
  host_only: (f) =>
    words(
      `${f.name} works only with numbers known before the program runs`,
      'use settings, lets and dt only',
      'Such functions are computed once on the host; the board never sees them.',
    ),
  run_only: (f) =>
    words(
      `${f.name} works only while the program runs`,
      'use it in an equation',
      'A let is computed before anything runs.',
    ),
  unknown_function: (f) =>
    words(
      `there is no function “${f.name}”`,
      near(f, 'see the list in the language page'),
      'Functions are sin, cos, sqrt and the like; a product is written with *.',
    ),
  index_moves: () =>
    words(
      'only a vector can be indexed by a number that changes',
      'use one index',
      'Matrices take indices known before the program runs.',
    ),
  not_on_host: (f) =>
    words(
      `“${f.name}” is not known before the program runs`,
      'a let reads settings, build settings, lets and dt',
      'Move it into an equation, which runs on every tick.',
    ),
  unknown_port: (f) =>
    words(
      `there is no “${f.name}” to read`,
      near(f, 'write BLOCK.PORT'),
      'Outputs, inputs, memories and settings of any block can be recorded and expected.',
    ),
  unknown_run: (f) =>
    words(
      `the sheet has no run “${f.name}”`,
      f.known === '' ? 'it has none' : `it has ${f.known}`,
      'Runs stand in the sheet under `runs`.',
    ),
  bad_length: (f) =>
    words(
      `“${f.value}” is no length for a run`,
      'write a time such as 10 s',
      'A run lasts a whole number of ticks, rounded up.',
    ),
  bad_time: (f) =>
    words(
      `“${f.value}” is no time`,
      'write a time such as 20 ms',
      'Nudges begin on the first tick that is not before their time.',
    ),
  sets_a_length: (f) =>
    words(
      `“${f.name}” cannot change while it runs: the length of a delay line depends on it`,
      'put it under the run’s `set`, which applies before compiling',
      'What a delay line holds was taken in at its own pace and cannot be made longer or shorter afterwards.',
    ),
  bad_amount: (f) =>
    words(
      `“${f.value}” cannot be put there`,
      'write a quantity, true, false, "nan" or "held"',
      'A nudge adds to a port or puts it to a value.',
    ),
  not_a_condition: () =>
    words(
      'this is no condition',
      'compare something: abs(body.lean) < 10 deg',
      'An expectation is a condition that holds always or once.',
    ),
};
