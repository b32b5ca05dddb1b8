/** A block on the sheet as the picture code wants to hear of it, whatever it is made from. */
import { library } from '../../blocks/library.ts';
import type { CardDescription, PortDescription } from '../../compiler/picture/card_size.ts';
import {
  type DescribeOptions,
  describeCard,
  describeGroup,
  type SolvedBlock,
} from '../../compiler/picture/describe.ts';
import type { BlockOnSheet, Sheet } from '../../compiler/sheet/sheet.ts';
import { entry, isFlipped } from '../../compiler/sheet/sheet.ts';
import { endOf, groundOf } from '../document/edits.ts';
import type { SolvedPart } from '../work/compile.worker.ts';
import { plainWords, textOf } from './shelf_items.ts';

export function describe(
  sheet: Sheet,
  scope: string,
  name: string,
  block: BlockOnSheet,
  found?: SolvedPart,
): CardDescription {
  const place = groundOf(sheet, scope);
  const spot = place === undefined ? undefined : entry(place.layout, name);
  const solved =
    found !== undefined ? solvedOf(found) : isFromPlantShelf(block) ? ({ side: 'plant' } as const) : undefined;
  const options: DescribeOptions = {
    flip: spot !== undefined && isFlipped(spot),
    severalRates: severalRates(sheet),
    ...(solved === undefined ? {} : { solved }),
  };
  const own = entry(sheet.shelf, block.is);
  if (typeof own === 'object') return describeGroup(name, block, own, options);
  const text = textOf(sheet, block.is);
  return text === undefined ? unknownBlock(sheet, scope, name, block) : describeCard(name, block, text, options);
}

function isFromPlantShelf({ is, side }: BlockOnSheet): boolean {
  return side === undefined && library.get(is)?.shelf === 'plant';
}

/** What the compiler found, as the picture code takes it; the shore's blocks are drawn by their channels. */
function solvedOf({ every, phase, side, sizes }: SolvedPart): SolvedBlock {
  return { every, phase, sizes, ...(side === 'shore' ? {} : { side }) };
}

const rates = new WeakMap<Sheet, boolean>();

/** Whether blocks say more than one rate. */
export function severalRates(sheet: Sheet): boolean {
  let several = rates.get(sheet);
  if (several === undefined) {
    const groups = Object.values(sheet.shelf).filter((item) => typeof item === 'object');
    several = [sheet, ...groups].some(({ blocks }) => Object.values(blocks).some((block) => (block.every ?? 1) > 1));
    rates.set(sheet, several);
  }
  return several;
}

/** A block nobody knows still has the ports its wires speak of, so that nothing drawn is lost. */
function unknownBlock(sheet: Sheet, scope: string, name: string, block: BlockOnSheet): CardDescription {
  const wires = Object.entries(groundOf(sheet, scope)?.wires ?? {});
  const port = (one: string): PortDescription => ({ name: one, logic: false, size: 1, optional: false });
  const ports = (ends: string[]) =>
    [
      ...new Set(
        ends
          .map(endOf)
          .filter((end) => end.block === name)
          .map((end) => end.port),
      ),
    ].map(port);
  return {
    name,
    kind: `${plainWords(block.is)}?`,
    drawnAs: 'card',
    law: [],
    values: {},
    settings: [],
    inputs: ports(wires.map(([to]) => to)),
    outputs: ports(wires.map(([, from]) => from)),
    comb: undefined,
    ground: 'none',
    guards: false,
    rows: [],
    flip: false,
  };
}
