/** `fmu.c`: a program as a co-simulation unit (FMI 3.0, section 4), one instance a call, in whole ticks. */

import { fieldLiteral } from '../literals.ts';
import { fmiFunctions, headOf, parameterNames } from './fmi_functions.ts';
import { fmuVariables, lengthOf } from './fmu_variables.ts';
import type { Made } from './target.ts';

/** Functions that `fmu.c` writes out; every other one only says that the unit cannot do it. */
const written = new Set(
  [
    'GetVersion SetDebugLogging InstantiateCoSimulation FreeInstance EnterInitializationMode ExitInitializationMode',
    'Terminate Reset GetFloat32 SetFloat32 GetFloat64 SetFloat64 GetInt32 SetInt32 GetBoolean SetBoolean',
    'GetFMUState SetFMUState FreeFMUState SerializedFMUStateSize SerializeFMUState DeserializeFMUState',
    'GetNumberOfEventIndicators GetNumberOfContinuousStates DoStep',
  ]
    .join(' ')
    .split(' ')
    .map((name) => `fmi3${name}`),
);

const kinds = { Float32: 'FLOAT32', Float64: 'FLOAT64', Int32: 'INT32', Boolean: 'BOOLEAN' } as const;

export function fmuSource(made: Made, token: string): string {
  const { prefix, file, tick } = made;
  const rows = fmuVariables(made).map((variable) => {
    const may = { input: 'ALWAYS', parameter: 'ALWAYS', output: 'AT_FIRST', local: 'NEVER' }[variable.causality];
    const { holder, field } = variable;
    const place = `offsetof(unit_t, ${holder}) + offsetof(${prefix}_${holder === 'm' ? '' : `${holder}_`}t, ${field.name})`;
    return `    {${place}, ${lengthOf(variable) ?? 1}U, ${kinds[variable.type]}, ${may}},`;
  });
  const others = fmiFunctions.filter(({ name }) => !written.has(name)).map(refusal);
  const accessors = (['Float32', 'Float64', 'Int32', 'Boolean'] as const).map(accessor);
  return `/*
 * The program as a co-simulation unit of FMI 3.0. A step is a whole number of ticks; inputs hold during all of them. A unit
 * refuses to be made where the arithmetic is not that of the simulation.
 */
#define FMI3_FUNCTION_PREFIX ${prefix}_
#include "fmi3Functions.h"

#include "${file}.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#define TOKEN "${token}"
#define TICK ${Number.isInteger(tick.seconds) ? tick.seconds.toFixed(1) : tick.seconds}

typedef enum { INSTANTIATED, INITIALISING, STEPPING, TERMINATED } phase_t;

/* All that a copy of a unit's state needs. */
typedef struct {
    ${prefix}_t m;
    ${prefix}_in_t in;
    ${prefix}_out_t out;
    phase_t mode;
    fmi3Float64 begin;
    fmi3Float64 end;
    fmi3Float64 time;
    uint64_t ticks;
    bool ends;
} unit_t;

typedef struct {
    unit_t unit;
    bool tells;
    fmi3InstanceEnvironment environment;
    fmi3LogMessageCallback tell;
} instance_t;

typedef enum { FLOAT32, FLOAT64, INT32, BOOLEAN } kind_t;

/* When it may be set: before the first step is AT_FIRST. */
typedef enum { NEVER, AT_FIRST, ALWAYS } may_t;

typedef struct {
    size_t at;
    size_t length;
    kind_t kind;
    may_t may;
} variable_t;

/* By value reference. */
static const variable_t variables[] = {
    {offsetof(unit_t, time), 1U, FLOAT64, NEVER},
${rows.join('\n')}
};

#define VARIABLES (sizeof variables / sizeof variables[0])

static fmi3Status refuse(const instance_t *one, fmi3Status status, const char *why)
{
    if ((one != NULL) && one->tells && (one->tell != NULL)) {
        one->tell(one->environment, status, "logStatusError", why);
    }
    return status;
}

/* Memory and settings to their first values, outputs at rest, inputs at theirs. */
static void begin_anew(unit_t *unit)
{
    (void)memset(unit, 0, sizeof *unit);
    ${prefix}_start(&unit->m);
    ${prefix}_rest(&unit->out);
${inputStarts(made)}    unit->mode = INSTANTIATED;
}

/* What follows goes over the variables asked for, and moves their numbers; sizes are those of the numbers outside. */
static fmi3Status move(instance_t *one, kind_t kind, const fmi3ValueReference references[], size_t count, void *values,
                       const void *given, size_t amount, size_t size)
{
    size_t next = 0U;
    if (one == NULL) {
        return fmi3Error;
    }
    if ((values == NULL) && (given == NULL)) {
        return ((count == 0U) && (amount == 0U)) ? fmi3OK : refuse(one, fmi3Error, "there are no values");
    }
    if ((given != NULL) && (one->unit.mode == TERMINATED)) {
        return refuse(one, fmi3Error, "nothing can be set after the end");
    }
    for (size_t i = 0U; i < count; i++) {
        if ((references[i] >= VARIABLES) || (variables[references[i]].kind != kind)) {
            return refuse(one, fmi3Error, "there is no variable of this type with this value reference");
        }
        const variable_t *const variable = &variables[references[i]];
        if (variable->length > (amount - next)) {
            return refuse(one, fmi3Error, "the number of values is not that of the variables");
        }
        if ((given != NULL) && ((variable->may == NEVER) || ((variable->may == AT_FIRST) && (one->unit.mode == STEPPING)))) {
            return refuse(one, fmi3Error, "this variable cannot be set now");
        }
        next += variable->length;
    }
    if (next != amount) {
        return refuse(one, fmi3Error, "the number of values is not that of the variables");
    }
    next = 0U;
    for (size_t i = 0U; i < count; i++) {
        const variable_t *const variable = &variables[references[i]];
        uint8_t *const place = (uint8_t *)&one->unit + variable->at;
        for (size_t j = 0U; j < variable->length; j++) {
            if (kind == BOOLEAN) {
                /* Here a byte that is 0 or 1. */
                if (given != NULL) {
                    place[j] = ((const fmi3Boolean *)given)[next] ? 1U : 0U;
                } else {
                    ((fmi3Boolean *)values)[next] = (place[j] != 0U);
                }
            } else if (given != NULL) {
                (void)memcpy(&place[j * size], (const uint8_t *)given + (next * size), size);
            } else {
                (void)memcpy((uint8_t *)values + (next * size), &place[j * size], size);
            }
            next++;
        }
    }
    return fmi3OK;
}

${accessors.join('\n')}
const char *fmi3GetVersion(void)
{
    return "3.0";
}

${head('fmi3SetDebugLogging')}
{
    instance_t *const one = instance;
    bool known = true;
    for (size_t i = 0U; i < nCategories; i++) {
        known = known && (strcmp(categories[i], "logStatusError") == 0);
    }
    one->tells = loggingOn;
    return known ? fmi3OK : refuse(one, fmi3Error, "there is no such category");
}

${head('fmi3InstantiateCoSimulation')}
{
    const char *why = NULL;
    instance_t *one = NULL;
    (void)resourcePath;
    (void)visible;
    (void)earlyReturnAllowed;
    (void)requiredIntermediateVariables;
    (void)intermediateUpdate;
    if ((instanceName == NULL) || (instanceName[strspn(instanceName, " \\t\\r\\n")] == '\\0')) {
        why = "an instance needs a name";
    } else if ((instantiationToken == NULL) || (strcmp(instantiationToken, TOKEN) != 0)) {
        why = "the instantiation token is that of another unit";
    } else if (eventModeUsed) {
        why = "there is no event mode";
    } else if (nRequiredIntermediateVariables > 0U) {
        why = "there is no intermediate update";
    } else if (${prefix}_arithmetic_ok() == 0) {
        why = "this machine does not compute as the simulation does";
    } else {
        one = malloc(sizeof *one);
        why = (one == NULL) ? "there is no memory" : NULL;
    }
    if (one != NULL) {
        begin_anew(&one->unit);
        one->tells = loggingOn;
        one->environment = instanceEnvironment;
        one->tell = logMessage;
    } else if (logMessage != NULL) {
        logMessage(instanceEnvironment, fmi3Error, "logStatusError", why);
    }
    return one;
}

void fmi3FreeInstance(fmi3Instance instance)
{
    free(instance);
}

${head('fmi3EnterInitializationMode')}
{
    instance_t *const one = instance;
    (void)toleranceDefined;
    (void)tolerance;
    if (one->unit.mode != INSTANTIATED) {
        return refuse(one, fmi3Error, "this can only be initialised before its first step, or after a reset");
    }
    if (stopTimeDefined && !(stopTime > startTime)) {
        return refuse(one, fmi3Error, "the end must come after the beginning");
    }
    one->unit.begin = startTime;
    one->unit.time = startTime;
    one->unit.ends = stopTimeDefined;
    one->unit.end = stopTime;
    one->unit.mode = INITIALISING;
    return fmi3OK;
}

${head('fmi3ExitInitializationMode')}
{
    instance_t *const one = instance;
    if (one->unit.mode != INITIALISING) {
        return refuse(one, fmi3Error, "this is not being initialised");
    }
    one->unit.mode = STEPPING;
    return fmi3OK;
}

${head('fmi3Terminate')}
{
    instance_t *const one = instance;
    if (one->unit.mode != STEPPING) {
        return refuse(one, fmi3Error, "this is not running");
    }
    one->unit.mode = TERMINATED;
    return fmi3OK;
}

${head('fmi3Reset')}
{
    instance_t *const one = instance;
    begin_anew(&one->unit);
    return fmi3OK;
}

${head('fmi3DoStep')}
{
    instance_t *const one = instance;
    unit_t *const unit = &one->unit;
    (void)noSetFMUStatePriorToCurrentPoint;
    *eventHandlingNeeded = fmi3False;
    *terminateSimulation = fmi3False;
    *earlyReturn = fmi3False;
    *lastSuccessfulTime = unit->time;
    if (unit->mode != STEPPING) {
        return refuse(one, fmi3Error, "this is not initialised, or has ended");
    }
    if (!(fabs(currentCommunicationPoint - unit->time) < (TICK * 1e-3))) {
        return refuse(one, fmi3Error, "this step does not begin where the one before ended");
    }
    const fmi3Float64 ticks = communicationStepSize / TICK;
    const fmi3Float64 whole = floor(ticks + 0.5);
    if (!((whole >= 1.0) && (whole < 4e9) && (fabs(ticks - whole) < 1e-6))) {
        return refuse(one, fmi3Discard, "a step must be a whole number of ticks");
    }
    if (unit->ends && ((unit->time + communicationStepSize) > (unit->end + (TICK * 1e-3)))) {
        return refuse(one, fmi3Error, "this step goes beyond the end");
    }
    for (fmi3Float64 i = 0.0; i < whole; i += 1.0) {
        ${prefix}_tick(&unit->m, &unit->in, &unit->out);
        unit->ticks++;
    }
    unit->time = unit->begin + ((fmi3Float64)unit->ticks * TICK);
    *lastSuccessfulTime = unit->time;
    return fmi3OK;
}

/* A state is a copy of the unit: plain numbers, no pointers, so its bytes can be kept. */
${head('fmi3GetFMUState')}
{
    const instance_t *const one = instance;
    if (*FMUState == NULL) {
        *FMUState = malloc(sizeof one->unit);
    }
    if (*FMUState == NULL) {
        return refuse(one, fmi3Error, "there is no memory");
    }
    (void)memcpy(*FMUState, &one->unit, sizeof one->unit);
    return fmi3OK;
}

${head('fmi3SetFMUState')}
{
    instance_t *const one = instance;
    if (FMUState == NULL) {
        return refuse(one, fmi3Error, "this is no state");
    }
    (void)memcpy(&one->unit, FMUState, sizeof one->unit);
    return fmi3OK;
}

${head('fmi3FreeFMUState')}
{
    (void)instance;
    if (FMUState != NULL) {
        free(*FMUState);
        *FMUState = NULL;
    }
    return fmi3OK;
}

${head('fmi3SerializedFMUStateSize')}
{
    (void)instance;
    (void)FMUState;
    *size = sizeof(unit_t);
    return fmi3OK;
}

${head('fmi3SerializeFMUState')}
{
    if ((FMUState == NULL) || (size != sizeof(unit_t))) {
        return refuse(instance, fmi3Error, "this is no state, or not its size");
    }
    (void)memcpy(serializedState, FMUState, size);
    return fmi3OK;
}

${head('fmi3DeserializeFMUState')}
{
    if (size != sizeof(unit_t)) {
        return refuse(instance, fmi3Error, "this is not the size of a state");
    }
    if (*FMUState == NULL) {
        *FMUState = malloc(sizeof(unit_t));
    }
    if (*FMUState == NULL) {
        return refuse(instance, fmi3Error, "there is no memory");
    }
    (void)memcpy(*FMUState, serializedState, size);
    return fmi3OK;
}

${head('fmi3GetNumberOfEventIndicators')}
{
    (void)instance;
    *nEventIndicators = 0U;
    return fmi3OK;
}

${head('fmi3GetNumberOfContinuousStates')}
{
    (void)instance;
    *nContinuousStates = 0U;
    return fmi3OK;
}

/* What the interface has and this unit has not; its description says so too. */
${others.join('\n')}`;
}

function head(name: string): string {
  const one = fmiFunctions.find((other) => other.name === name);
  if (one === undefined) throw new Error(`no function ${name}`);
  return headOf(one);
}

const accessor = (type: keyof typeof kinds): string => `${head(`fmi3Get${type}`)}
{
    return move(instance, ${kinds[type]}, valueReferences, nValueReferences, values, NULL, nValues, sizeof values[0]);
}

${head(`fmi3Set${type}`)}
{
    return move(instance, ${kinds[type]}, valueReferences, nValueReferences, NULL, values, nValues, sizeof values[0]);
}
`;

function refusal(one: (typeof fmiFunctions)[number]): string {
  const unused = parameterNames(one)
    .filter((name) => one.result === 'fmi3Instance' || name !== 'instance')
    .map((name) => `    (void)${name};\n`)
    .join('');
  const answer =
    one.result === 'fmi3Instance' ? 'return NULL;' : 'return refuse(instance, fmi3Error, "this unit cannot do that");';
  return `${headOf(one)}
{
${unused}    ${answer}
}
`;
}

/** Inputs that do not start at zero. */
function inputStarts(made: Made): string {
  return made.fields.in
    .flatMap(({ slot, name }) =>
      slot.start.map((value, i) => {
        if (Object.is(value, 0)) return '';
        return `    unit->in.${name}${slot.length > 1 ? `[${i}]` : ''} = ${fieldLiteral(slot.type, value)};\n`;
      }),
    )
    .join('');
}
