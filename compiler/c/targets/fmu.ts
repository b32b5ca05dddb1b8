/** A co-simulation unit after FMI 3.0 (Functional Mock-up Interface), with its C sources. */

import { hosted } from '../selfcheck.ts';
import { fmiHeader } from './fmi_functions.ts';
import { buildDescription, modelDescription } from './fmu_description.ts';
import { fmuSource } from './fmu_source.ts';
import { makefile } from './makefile.ts';
import { readme } from './readme.ts';
import { type Made, type Target, textFile } from './target.ts';

const about = {
  about: 'a co-simulation unit (FMI 3.0)',
  cautions: [
    'A unit is for simulation: it says nothing about the time that the program takes on a board.',
    'What a tick computes is read after its step, a tick later than its sensors were read; where the sheet lets outputs act at once, the loop closed by an importer is a tick slower than on the bench.',
  ],
};

export const fmu: Target = {
  name: 'fmu',
  ...about,
  machine: 'importers of FMI 3.0 co-simulation units, C99',
  numbers: ['f32', 'f64'],
  room: Number.POSITIVE_INFINITY,
  eachNumber: true,
  machinery: hosted,
  around: (made) => {
    const { text, token } = modelDescription(made);
    return [
      textFile('modelDescription.xml', text),
      textFile('buildDescription.xml', buildDescription(made)),
      textFile('fmu.c', fmuSource(made, token)),
      textFile('fmi3Functions.h', fmiHeader),
      makefile(made, {
        compiler: 'gcc',
        size: 'size',
        packages: 'gcc libc6-dev make zip',
        cores: [{ name: 'host', flags: '', run: './$<' }],
        variables: `LINK_host =
# The platform as the standard names it, and how its shared libraries end.
PLATFORM = $(shell uname -m | sed s/arm64/aarch64/)-$(shell uname -s | tr A-Z a-z)
LIBRARY = $(if $(findstring darwin,$(PLATFORM)),.dylib,.so)`,
        sources: [],
        headers: [],
        libraries: '-lm',
        runs: false,
        more: pack(made),
        ending: '',
      }),
      page(made),
    ];
  },
};

/** Rules for the shared library and for the unit, packed as section 2.5.1 of the standard asks. */
function pack({ file, prefix }: Made) {
  const library = `build/${prefix}$(LIBRARY)`;
  return {
    goals: [library],
    rules: `${library}: fmu.c fmi3Functions.h ${file}.c ${file}.h Makefile
	@mkdir -p $(@D)
	$(CC) $(FLAGS) -fPIC -shared -fvisibility=hidden -DFMI3_OVERRIDE_FUNCTION_PREFIX fmu.c ${file}.c $(LIBRARIES) -o $@

# The interface's header is the importer's, so it is not packed.
.PHONY: fmu
fmu: ${library}
	@command -v zip >/dev/null || { echo "zip is not here, and a unit is a ZIP file: install it (Debian: zip)." >&2; exit 1; }
	rm -rf build/unit build/${prefix}.fmu
	mkdir -p build/unit/sources build/unit/binaries/$(PLATFORM)
	cp modelDescription.xml build/unit
	cp buildDescription.xml fmu.c ${file}.c ${file}.h build/unit/sources
	cp ${library} build/unit/binaries/$(PLATFORM)
	cd build/unit && zip -q -X -D -r ../${prefix}.fmu modelDescription.xml sources binaries
	@echo build/${prefix}.fmu
`,
  };
}

function page(made: Made) {
  const { prefix } = made;
  return readme(made, about, {
    files: [
      ['modelDescription.xml', 'its variables, for importers'],
      ['buildDescription.xml', 'how importers compile it'],
      ['fmu.c', "the interface's functions around the program"],
      ['fmi3Functions.h', "the interface, for the build here; importers take the standard's own"],
    ],
    build: `\`make\` compiles the program and the shared library, \`make fmu\` packs \`build/${prefix}.fmu\` with its sources and the library for
this computer. \`make check\` builds the self-check, runs it here and prints \`N passed, N failed\`. A unit checks the arithmetic
of its machine whenever it is instantiated, and refuses if it is not that of the simulation.`,
    wiring: `Sensors are inputs, raw; actuators are outputs, raw; settings are tunable parameters; memories and held values can be read as local
variables. There may be any number of instances. A step must be a whole number of ticks, during which inputs hold: any other
is answered with \`fmi3Discard\` and changes nothing. States can be kept, set back and serialised; there are no events, clocks,
derivatives or units of measure.`,
    checkedOn: 'where you run `make check`',
  });
}
