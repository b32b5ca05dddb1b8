/**
 * The C interface of FMI 3.0 (Functional Mock-up Interface, Modelica Association): its functions and types, from the standard's
 * text, as a header for whoever has not the standard's own. All functions of the interface are declared; those of
 * capabilities that a unit does not have only say so.
 */

/** Scalar types with their C types. */
export const fmiTypes: readonly (readonly [name: string, c: string])[] = [
  ['Float32', 'float'],
  ['Float64', 'double'],
  ['Int8', 'int8_t'],
  ['UInt8', 'uint8_t'],
  ['Int16', 'int16_t'],
  ['UInt16', 'uint16_t'],
  ['Int32', 'int32_t'],
  ['UInt32', 'uint32_t'],
  ['Int64', 'int64_t'],
  ['UInt64', 'uint64_t'],
  ['Boolean', 'bool'],
];

export interface FmiFunction {
  readonly name: string;
  readonly result: 'fmi3Status' | 'fmi3Instance' | 'void' | 'const char *';
  /** Parameters as declared. */
  readonly parameters: readonly string[];
}

const instance = 'fmi3Instance instance';
const references = 'const fmi3ValueReference valueReferences[], size_t nValueReferences';
const named = 'fmi3String instanceName, fmi3String instantiationToken, fmi3String resourcePath';
const shown = 'fmi3Boolean visible, fmi3Boolean loggingOn';
const heard = 'fmi3InstanceEnvironment instanceEnvironment, fmi3LogMessageCallback logMessage';
const derivative = `const fmi3ValueReference unknowns[], size_t nUnknowns, const fmi3ValueReference knowns[], size_t nKnowns,
const fmi3Float64 seed[], size_t nSeed, fmi3Float64 sensitivity[], size_t nSensitivity`;
const counted = 'fmi3UInt64 counters[], fmi3UInt64 resolutions[]';

/** Functions that take an instance and give a status: name and further parameters. */
const onInstance: readonly (readonly [name: string, parameters: string])[] = [
  ['SetDebugLogging', 'fmi3Boolean loggingOn, size_t nCategories, const fmi3String categories[]'],
  [
    'EnterInitializationMode',
    'fmi3Boolean toleranceDefined, fmi3Float64 tolerance, fmi3Float64 startTime, fmi3Boolean stopTimeDefined, fmi3Float64 stopTime',
  ],
  ['ExitInitializationMode', ''],
  ['EnterEventMode', ''],
  ['Terminate', ''],
  ['Reset', ''],
  ...fmiTypes.flatMap(([type]): (readonly [string, string])[] => [
    [`Get${type}`, `${references}, fmi3${type} values[], size_t nValues`],
    [`Set${type}`, `${references}, const fmi3${type} values[], size_t nValues`],
  ]),
  ['GetString', `${references}, fmi3String values[], size_t nValues`],
  ['SetString', `${references}, const fmi3String values[], size_t nValues`],
  ['GetBinary', `${references}, size_t valueSizes[], fmi3Binary values[], size_t nValues`],
  ['SetBinary', `${references}, const size_t valueSizes[], const fmi3Binary values[], size_t nValues`],
  ['GetClock', `${references}, fmi3Clock values[]`],
  ['SetClock', `${references}, const fmi3Clock values[]`],
  ['GetNumberOfVariableDependencies', 'fmi3ValueReference valueReference, size_t *nDependencies'],
  [
    'GetVariableDependencies',
    `fmi3ValueReference dependent, size_t elementIndicesOfDependent[], fmi3ValueReference independents[],
size_t elementIndicesOfIndependents[], fmi3DependencyKind dependencyKinds[], size_t nDependencies`,
  ],
  ['GetFMUState', 'fmi3FMUState *FMUState'],
  ['SetFMUState', 'fmi3FMUState FMUState'],
  ['FreeFMUState', 'fmi3FMUState *FMUState'],
  ['SerializedFMUStateSize', 'fmi3FMUState FMUState, size_t *size'],
  ['SerializeFMUState', 'fmi3FMUState FMUState, fmi3Byte serializedState[], size_t size'],
  ['DeserializeFMUState', 'const fmi3Byte serializedState[], size_t size, fmi3FMUState *FMUState'],
  ['GetDirectionalDerivative', derivative],
  ['GetAdjointDerivative', derivative],
  ['EnterConfigurationMode', ''],
  ['ExitConfigurationMode', ''],
  ['GetIntervalDecimal', `${references}, fmi3Float64 intervals[], fmi3IntervalQualifier qualifiers[]`],
  ['GetIntervalFraction', `${references}, ${counted}, fmi3IntervalQualifier qualifiers[]`],
  ['GetShiftDecimal', `${references}, fmi3Float64 shifts[]`],
  ['GetShiftFraction', `${references}, ${counted}`],
  ['SetIntervalDecimal', `${references}, const fmi3Float64 intervals[]`],
  ['SetIntervalFraction', `${references}, const fmi3UInt64 counters[], const fmi3UInt64 resolutions[]`],
  ['SetShiftDecimal', `${references}, const fmi3Float64 shifts[]`],
  ['SetShiftFraction', `${references}, const fmi3UInt64 counters[], const fmi3UInt64 resolutions[]`],
  ['EvaluateDiscreteStates', ''],
  [
    'UpdateDiscreteStates',
    `fmi3Boolean *discreteStatesNeedUpdate, fmi3Boolean *terminateSimulation, fmi3Boolean *nominalsOfContinuousStatesChanged,
fmi3Boolean *valuesOfContinuousStatesChanged, fmi3Boolean *nextEventTimeDefined, fmi3Float64 *nextEventTime`,
  ],
  ['EnterContinuousTimeMode', ''],
  [
    'CompletedIntegratorStep',
    'fmi3Boolean noSetFMUStatePriorToCurrentPoint, fmi3Boolean *enterEventMode, fmi3Boolean *terminateSimulation',
  ],
  ['SetTime', 'fmi3Float64 time'],
  ['SetContinuousStates', 'const fmi3Float64 continuousStates[], size_t nContinuousStates'],
  ['GetContinuousStateDerivatives', 'fmi3Float64 derivatives[], size_t nContinuousStates'],
  ['GetEventIndicators', 'fmi3Float64 eventIndicators[], size_t nEventIndicators'],
  ['GetContinuousStates', 'fmi3Float64 continuousStates[], size_t nContinuousStates'],
  ['GetNominalsOfContinuousStates', 'fmi3Float64 nominals[], size_t nContinuousStates'],
  ['GetNumberOfEventIndicators', 'size_t *nEventIndicators'],
  ['GetNumberOfContinuousStates', 'size_t *nContinuousStates'],
  ['EnterStepMode', ''],
  ['GetOutputDerivatives', `${references}, const fmi3Int32 orders[], fmi3Float64 values[], size_t nValues`],
  [
    'DoStep',
    `fmi3Float64 currentCommunicationPoint, fmi3Float64 communicationStepSize, fmi3Boolean noSetFMUStatePriorToCurrentPoint,
fmi3Boolean *eventHandlingNeeded, fmi3Boolean *terminateSimulation, fmi3Boolean *earlyReturn, fmi3Float64 *lastSuccessfulTime`,
  ],
  ['ActivateModelPartition', 'fmi3ValueReference clockReference, fmi3Float64 activationTime'],
];

const split = (text: string): string[] => text.split(/,\s*/).filter((part) => part !== '');

/** Every function of the interface, in the order of the standard's parts. */
export const fmiFunctions: readonly FmiFunction[] = [
  { name: 'fmi3GetVersion', result: 'const char *', parameters: [] },
  {
    name: 'fmi3InstantiateModelExchange',
    result: 'fmi3Instance',
    parameters: split(`${named}, ${shown}, ${heard}`),
  },
  {
    name: 'fmi3InstantiateCoSimulation',
    result: 'fmi3Instance',
    parameters: split(
      `${named}, ${shown}, fmi3Boolean eventModeUsed, fmi3Boolean earlyReturnAllowed, const fmi3ValueReference requiredIntermediateVariables[], size_t nRequiredIntermediateVariables, ${heard}, fmi3IntermediateUpdateCallback intermediateUpdate`,
    ),
  },
  {
    name: 'fmi3InstantiateScheduledExecution',
    result: 'fmi3Instance',
    parameters: split(
      `${named}, ${shown}, ${heard}, fmi3ClockUpdateCallback clockUpdate, fmi3LockPreemptionCallback lockPreemption, fmi3UnlockPreemptionCallback unlockPreemption`,
    ),
  },
  { name: 'fmi3FreeInstance', result: 'void', parameters: [instance] },
  ...onInstance.map(
    ([name, parameters]): FmiFunction => ({
      name: `fmi3${name}`,
      result: 'fmi3Status',
      parameters: [instance, ...split(parameters)],
    }),
  ),
];

/** A function's head, one parameter a line where there are several. */
export function headOf({ name, result, parameters }: FmiFunction): string {
  const space = result.endsWith('*') ? '' : ' ';
  const list = parameters.length > 2 ? `\n    ${parameters.join(',\n    ')}` : parameters.join(', ') || 'void';
  return `${result}${space}${name}(${list})`;
}

/** Names of a function's parameters. */
export function parameterNames({ parameters }: FmiFunction): string[] {
  return parameters.map((parameter) => parameter.replace(/\[\]$/, '').replace(/^.*[ *]/, ''));
}

/** `fmi3Functions.h`, for builds without an importer, which has its own. */
export const fmiHeader = `/*
 * The C interface of FMI 3.0, written after the standard's text (https://fmi-standard.org/docs/3.0/). It serves the build
 * here only: an importer compiles with its own header of this name, so none is packed.
 */
#ifndef fmi3Functions_h
#define fmi3Functions_h

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef void *fmi3Instance;
typedef void *fmi3InstanceEnvironment;
typedef void *fmi3FMUState;
typedef uint32_t fmi3ValueReference;
${fmiTypes.map(([name, c]) => `typedef ${c} fmi3${name};`).join('\n')}
typedef char fmi3Char;
typedef const fmi3Char *fmi3String;
typedef uint8_t fmi3Byte;
typedef const fmi3Byte *fmi3Binary;
typedef bool fmi3Clock;

#define fmi3True true
#define fmi3False false
#define fmi3Version "3.0"

typedef enum { fmi3OK, fmi3Warning, fmi3Discard, fmi3Error, fmi3Fatal } fmi3Status;
typedef enum {
    fmi3Independent,
    fmi3Constant,
    fmi3Fixed,
    fmi3Tunable,
    fmi3Discrete,
    fmi3Dependent
} fmi3DependencyKind;
typedef enum { fmi3IntervalNotYetKnown, fmi3IntervalUnchanged, fmi3IntervalChanged } fmi3IntervalQualifier;

typedef void (*fmi3LogMessageCallback)(
    fmi3InstanceEnvironment instanceEnvironment, fmi3Status status, fmi3String category, fmi3String message);
typedef void (*fmi3ClockUpdateCallback)(fmi3InstanceEnvironment instanceEnvironment);
typedef void (*fmi3IntermediateUpdateCallback)(
    fmi3InstanceEnvironment instanceEnvironment, fmi3Float64 intermediateUpdateTime,
    fmi3Boolean intermediateVariableSetRequested, fmi3Boolean intermediateVariableGetAllowed,
    fmi3Boolean intermediateStepFinished, fmi3Boolean canReturnEarly, fmi3Boolean *earlyReturnRequested,
    fmi3Float64 *earlyReturnTime);
typedef void (*fmi3LockPreemptionCallback)(void);
typedef void (*fmi3UnlockPreemptionCallback)(void);

/* Names begin with the unit's own, but in a shared library, which is built with FMI3_OVERRIDE_FUNCTION_PREFIX. */
#if !defined(FMI3_OVERRIDE_FUNCTION_PREFIX) && defined(FMI3_FUNCTION_PREFIX)
#define FMI3_ACTUAL_FUNCTION_PREFIX FMI3_FUNCTION_PREFIX
#endif
#if defined(FMI3_ACTUAL_FUNCTION_PREFIX)
#define FMI3_JOIN(prefix, name) prefix##name
#define FMI3_JOINED(prefix, name) FMI3_JOIN(prefix, name)
#define FMI3_NAME(name) FMI3_JOINED(FMI3_ACTUAL_FUNCTION_PREFIX, name)
${fmiFunctions.map(({ name }) => `#define ${name} FMI3_NAME(${name})`).join('\n')}
#endif

#if !defined(FMI3_Export)
#if defined(FMI3_ACTUAL_FUNCTION_PREFIX)
#define FMI3_Export
#elif defined(_WIN32) || defined(__CYGWIN__)
#define FMI3_Export __declspec(dllexport)
#elif defined(__GNUC__)
#define FMI3_Export __attribute__((visibility("default")))
#else
#define FMI3_Export
#endif
#endif

${fmiFunctions.map((one) => `FMI3_Export ${headOf(one)};`).join('\n')}

#ifdef __cplusplus
}
#endif

#endif`;
