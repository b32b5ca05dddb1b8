/** Makefiles: the same goals for every target, whatever compiles and runs its images. */

import { type CFile, inComment } from '../lines.ts';
import { type Made, textFile } from './target.ts';

/** One processor that a target is built for. */
export interface Core {
  readonly name: string;
  /** What the compiler is told about it. */
  readonly flags: string;
  /** Says on standard output what the self-check's image says, and fails when that fails; `$<` is the image. */
  readonly run: string;
}

export interface Build {
  readonly compiler: string;
  /** Prints the sections of an object. */
  readonly size: string;
  /** More variables, one a line. */
  readonly variables?: string;
  readonly cores: readonly Core[];
  /** Sources and headers besides the program's and the self-check's. */
  readonly sources: readonly string[];
  readonly headers: readonly string[];
  /** What stands before and after the sources of an image. */
  readonly flags?: string;
  readonly libraries: string;
  /** Packages of Debian 12 that have the tools. */
  readonly packages: string;
  /** Warnings that mean nothing for this compiler, with the reason. */
  readonly without?: readonly [flags: string, reason: string];
  /** Whether there is an image that runs on the machine. */
  readonly runs: boolean;
  /** Goals of `make` besides, and their rules. */
  readonly more?: { readonly goals: readonly string[]; readonly rules: string };
  /** How images' names end. */
  readonly ending: '' | '.elf';
}

export const strictFlags = '-Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wdouble-promotion -Werror';

/** Runs an image on an emulated board of this name and lets it print to standard output. */
export const emulated = (board: string): string =>
  `timeout 300 $(EMULATOR) -M ${board} -display none -monitor none -serial none -chardev stdio,id=out \\
	  -semihosting-config enable=on,target=native,chardev=out -kernel $< </dev/null`;

/** `make`, `make check`, `make size` and `make clean`; everything made goes to `build/`. */
export function makefile(made: Made, build: Build): CFile {
  const { file, check, title } = made;
  const { ending } = build;
  const images = [...(build.runs ? [`${file}${ending}`] : []), ...(check === undefined ? [] : [`selfcheck${ending}`])];
  const goals = images.length === 0 ? [`${file}.o`] : images;
  const sources = [`${file}.c`, ...(check === undefined ? [] : ['selfcheck.c']), ...build.sources].join(' ');
  const headers = [`${file}.h`, ...build.headers].join(' ');
  const image = (name: string, startUp: string): string => `
build/%/${name}: $(SOURCES) $(HEADERS) Makefile
	@mkdir -p $(@D)
	$(CC) $(FLAGS_$*) $(FLAGS)${startUp} $(SOURCES) $(LINK_$*) $(LIBRARIES) -o $@
`;
  return textFile(
    'Makefile',
    `# ${inComment(title)}: \`make\` builds, \`make check\` runs the self-check, \`make size\` prints code size and stack.
# Tools, as Debian 12 packages: ${build.packages}.

CC = ${build.compiler}
SIZE = ${build.size}
CORES = ${build.cores.map((core) => core.name).join(' ')}
${build.cores.map((core) => `FLAGS_${core.name} = ${core.flags}`).join('\n')}
${build.variables ?? ''}
CFLAGS = -O2
${build.without === undefined ? '' : `# ${build.without[1]}\n`}WARNINGS = ${strictFlags}${build.without === undefined ? '' : ` ${build.without[0]}`}
# The same bits everywhere: C99 as it stands, nothing fused, nothing reordered.
EXACT = -std=c99 -ffp-contract=off
FLAGS = $(WARNINGS) $(EXACT) $(CFLAGS)${build.flags === undefined ? '' : ` ${build.flags}`}
LIBRARIES = ${build.libraries}
SOURCES = ${sources}
HEADERS = ${headers}

.PHONY: all check size clean
.DELETE_ON_ERROR:
.SECONDARY:

all: $(foreach core,$(CORES),${goals.map((goal) => `build/$(core)/${goal}`).join(' ')})${(build.more?.goals ?? []).map((goal) => ` ${goal}`).join('')}
${build.runs ? image(`${file}${ending}`, ' -DSTART_UP=1') : ''}${check === undefined ? '' : image(`selfcheck${ending}`, build.runs ? ' -DSTART_UP=0' : '')}
build/%/${file}.o: ${file}.c ${file}.h Makefile
	@mkdir -p $(@D)
	$(CC) $(FLAGS_$*) $(FLAGS) -c $< -o $@
${check === undefined ? noCheck : checks(build)}
size: $(CORES:%=size-%)

# Nothing calls itself, so the sum over all functions bounds the stack.
size-%:
	@mkdir -p build/$*
	@$(CC) $(FLAGS_$*) $(FLAGS) -fstack-usage -c ${file}.c -o build/$*/size.o
	@echo "$*:" && $(SIZE) build/$*/size.o
	@awk -F '\\t' '{ n = split($$1, at, ":"); print at[n] ": " $$2 " bytes of stack, " $$3; sum += $$2; \\
	  if ($$3 !~ /static|bounded/) { free = 1 } } \\
	  END { print "at most " sum " bytes of stack" (free ? ", but for what is not bounded" : ""); exit free }' build/$*/size.su

${build.more?.rules ?? ''}
clean:
	rm -rf build`,
  );
}

const noCheck = `
check:
	@echo "There is no self-check here: emit again with --selfcheck RUN." >&2; exit 1
`;

function checks({ cores, ending }: Build): string {
  return `
check: $(CORES:%=check-%)
${cores
  .map(
    ({ name, run }) => `
.PHONY: check-${name}
check-${name}: build/${name}/selfcheck${ending}
${run
  .split('\n')
  .map((line) => `\t${line}`)
  .join('\n')}
`,
  )
  .join('')}`;
}
