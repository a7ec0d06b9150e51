// Makes the vectors that tests/wire/ and tests/verbs/ read, with two libraries from the npm registry
// as oracles:
//   iec.txt    messages encoded (and cut into frames) by @canboat/canboatjs from random values
//   j1939.txt  random frames decoded by candied from j1939.dbc, which holds the layouts of SAE
//              J1939DA (October 2020); the first library has no J1939 messages
//   device-functions.txt  classes and functions of devices, listed by the first library
// npm install && node make.mjs [SEED]
import { readFileSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import codec from '@canboat/canboatjs';

const require = createRequire(import.meta.url);
const definitions = require('@canboat/ts-pgns');
const dbc = require('candied');
const version = (name) =>
  JSON.parse(readFileSync(new URL(`node_modules/${name}/package.json`, import.meta.url))).version;

const seed = Number(process.argv[2] ?? 20260504);
let state = seed >>> 0;
function random() { // mulberry32
  state = (state + 0x6d2b79f5) >>> 0;
  let t = state;
  t = Math.imul(t ^ (t >>> 15), t | 1);
  t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
  return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
}
const below = (n) => Math.floor(random() * n);
const between = (low, high) => low + random() * (high - low);
const pick = (list) => list[below(list.length)];

let out = [];
const number = (v) => String(Number(v.toPrecision(12)));

// One field of a message (~NAME for one that is no channel): what the encoder gets, and the line that the test must find. `scale` and
// `zero` lead from the unit as sent to the unit of the channel; one field in eight says nothing.
function measure(fields, lines, key, name, low, high, step, scale = 1, zero = 0) {
  if (below(8) === 0) {
    if (!key.startsWith('~')) lines.push(`none ${key}`);
    return;
  }
  const v = between(low, high);
  fields[name] = v;
  const figures = `${number(v * scale + zero)} ${number((step / 2) * Math.abs(scale))}`;
  if (key.startsWith('~')) lines.push(`field ${key.slice(1)} 0 ${figures}`);
  else lines.push(`value ${key} ${figures}`);
}

const KPA = 0.001, KELVIN = -273.15, KNOT = 3600 / 1852;
const sources = ['sea', 'outside-air', 'inside-air', 'engine-space', 'cabin', 'live-well',
  'bait-well', 'refrigerator', 'heating', 'dew-point', 'wind-chill-apparent', 'wind-chill',
  'heat-index', 'freezer', 'exhaust', 'shaft-seal'];
const fluids = ['fuel-tank', 'fresh-water-tank', 'grey-water-tank', 'live-well-tank', 'oil-tank',
  'black-water-tank'];
const text = (n) => Array.from({ length: 1 + below(n) },
  () => 'ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-.'[below(38)]).join('');

const messages = {
  127488(f, l) {
    const n = (f.instance = below(253));
    measure(f, l, `rpm.${n}`, 'speed', 0, 8000, 0.25);
    measure(f, l, `boost.${n}`, 'boostPressure', 0, 400000, 100, KPA);
    measure(f, l, '~tilt_or_trim', 'tiltTrim', -100, 100, 1);
  },
  127489(f, l) {
    const n = (f.instance = below(253));
    measure(f, l, `oil-pressure.${n}`, 'oilPressure', 0, 900000, 100, KPA);
    measure(f, l, `oil-temp.${n}`, 'oilTemperature', 250, 450, 0.1, 1, KELVIN);
    measure(f, l, `coolant.${n}`, 'temperature', 250, 400, 0.01, 1, KELVIN);
    measure(f, l, `alternator.${n}`, 'alternatorPotential', -5, 60, 0.01);
    measure(f, l, `fuel-rate.${n}`, 'fuelRate', -10, 900, 0.1);
    measure(f, l, `hours.${n}`, 'totalEngineHours', 0, 3.6e8, 1, 1 / 3600);
    measure(f, l, `coolant-pressure.${n}`, 'coolantPressure', 0, 400000, 100, KPA);
    measure(f, l, `fuel-pressure.${n}`, 'fuelPressure', 0, 6e7, 1000, KPA);
    measure(f, l, `load.${n}`, 'engineLoad', -100, 120, 1);
    measure(f, l, `torque.${n}`, 'engineTorque', -100, 120, 1);
    // The words' bits by name: names come from the library and stay in it.
    const words = [below(65534), below(256)];
    ['discreteStatus1', 'discreteStatus2'].forEach((name, w) => {
      const field = definitions.getPGNWithNumber(127489)[0].Fields.find((x) => x.Id === name);
      f[name] = [];
      for (let bit = 0; bit < 16; bit++) {
        if (!((words[w] >> bit) & 1)) continue;
        const known = definitions.getBitEnumerationName(field.LookupBitEnumeration, bit);
        if (known) f[name].push(known);
        else words[w] &= ~(1 << bit);
      }
    });
    l.push(`status ${n} ${words[0]} ${words[1]}`);
  },
  127493(f, l) {
    const n = (f.instance = below(253)), gear = (f.transmissionGear = below(4));
    l.push(gear === 3 ? `none gear.${n}` : `value gear.${n} ${1 - gear} 0`);
    measure(f, l, `gear-oil-pressure.${n}`, 'oilPressure', 0, 3e6, 100, KPA);
    measure(f, l, `gear-oil-temp.${n}`, 'oilTemperature', 250, 450, 0.1, 1, KELVIN);
    f.discreteStatus1 = 0;
  },
  127497(f, l) {
    const n = (f.instance = below(253));
    measure(f, l, `trip-fuel.${n}`, 'tripFuelUsed', 0, 60000, 1);
    measure(f, l, '~average_fuel_rate', 'fuelRateAverage', 0, 900, 0.1);
    measure(f, l, '~fuel_rate_now', 'instantaneousFuelEconomy', 0, 900, 0.1);
  },
  127501(f, l) {
    const bank = (f.instance = below(253));
    for (let i = 1; i <= 28; i++) {
      const v = below(4);
      f[`indicator${i}`] = v;
      l.push(v === 3 ? `none switch.${bank}.${i}` : v === 2 ? `error switch.${bank}.${i}`
        : `value switch.${bank}.${i} ${v} 0`);
    }
  },
  127502(f, l) {
    f.instance = below(253);
    for (let i = 1; i <= 28; i++) {
      f[`switch${i}`] = below(2);
      l.push(`field switch ${i - 1} ${f[`switch${i}`]} 0`);
    }
  },
  127498(f, l) {
    const n = (f.instance = below(253));
    measure(f, l, `rated-speed.${n}`, 'ratedEngineSpeed', 1000, 6000, 0.25);
    f.vin = text(17);
    f.softwareId = text(20);
  },
  127505(f, l) {
    const n = (f.instance = below(15)), type = (f.type = below(fluids.length));
    if (n === 14) l = []; // an error code: no tank, no value
    measure(f, l, `${fluids[type]}.${n}`, 'level', -10, 110, 0.004);
    if (below(3)) {
      f.capacity = between(0, 100000);
      l.push(`capacity ${number(f.capacity)} 0.05`);
    }
  },
  127506(f, l) {
    const n = (f.instance = below(253));
    measure(f, l, `battery-charge.${n}`, 'stateOfCharge', 0, 100, 1);
    measure(f, l, '~state_of_health', 'stateOfHealth', 0, 100, 1);
    f.sid = below(253);
    f.dcType = 0;
    measure(f, l, '~time_remaining', 'timeRemaining', 0, 3e6, 60, 1 / 60);
    measure(f, l, '~ripple_voltage', 'rippleVoltage', 0, 60, 0.001);
  },
  127508(f, l) {
    const n = (f.instance = below(253));
    measure(f, l, `battery-volts.${n}`, 'voltage', -10, 60, 0.01);
    measure(f, l, `battery-amps.${n}`, 'current', -3000, 3000, 0.1);
    measure(f, l, `battery-temp.${n}`, 'temperature', 230, 400, 0.01, 1, KELVIN);
    f.sid = below(253);
  },
  128259(f, l) {
    measure(f, l, 'speed-water', 'speedWaterReferenced', 0, 40, 0.01, KNOT);
    measure(f, l, '~speed_over_ground', 'speedGroundReferenced', 0, 40, 0.01, KNOT);
  },
  129026(f, l) {
    f.cogReference = 0;
    measure(f, l, '~course_over_ground', 'cog', 0, 6.28, 0.0001);
    measure(f, l, 'speed-ground', 'sog', 0, 40, 0.01, KNOT);
  },
  130310(f, l) {
    measure(f, l, 'sea.0', 'waterTemperature', 260, 320, 0.01, 1, KELVIN);
    measure(f, l, 'outside-air.0', 'outsideAmbientAirTemperature', 230, 330, 0.01, 1, KELVIN);
    measure(f, l, '~barometric_pressure', 'atmosphericPressure', 90000, 110000, 100, KPA);
  },
  130311(f, l) {
    const source = (f.temperatureSource = below(3));
    f.humiditySource = below(2);
    measure(f, l, `${sources[source]}.0`, 'temperature', 230, 330, 0.01, 1, KELVIN);
    measure(f, l, '~humidity', 'humidity', 0, 100, 0.004);
    measure(f, l, '~barometric_pressure', 'atmosphericPressure', 90000, 110000, 100, KPA);
  },
  130312(f, l) {
    const n = (f.instance = below(253)), source = (f.source = below(16));
    measure(f, l, `${sources[source]}.${n}`, 'actualTemperature', 0, 655, 0.01, 1, KELVIN);
    measure(f, l, '~set_temperature', 'setTemperature', 0, 655, 0.01, 1, KELVIN);
  },
  130313(f, l) {
    const n = (f.instance = below(253));
    f.source = below(2);
    measure(f, l, `humidity.${n}`, 'actualHumidity', 0, 100, 0.004);
  },
  130314(f, l) {
    const n = (f.instance = below(253)), source = (f.source = below(9));
    measure(f, l, `pressure.${source}.${n}`, 'pressure', -1e8, 2e8, 0.1, KPA);
  },
  130316(f, l) {
    const n = (f.instance = below(253)), source = (f.source = below(16));
    measure(f, l, `${sources[source]}.${n}`, 'temperature', 0.5, 1500, 0.001, 1, KELVIN);
    measure(f, l, '~set_temperature', 'setTemperature', 0, 1500, 0.1, 1, KELVIN);
  },
  126992(f, l) {
    const day = 1 + below(60000), second = below(864000000) / 10000;
    f.date = day;
    f.time = second;
    l.push(`clock ${(day * 86400 + second).toFixed(4)}`);
  },
  126993(f, l) {
    f.dataTransmitOffset = between(0.01, 600);
    f.sequenceCounter = below(253);
    l.push(`heartbeat ${number(f.dataTransmitOffset)} ${f.sequenceCounter}`);
  },
  126996(f, l) {
    f.nmea2000Version = (1000 + below(2000)) / 1000;
    f.productCode = below(60000);
    const t = [text(32), text(32), text(32), text(32)];
    [f.modelId, f.softwareVersionCode, f.modelVersion, f.modelSerialCode] = t;
    f.certificationLevel = below(4);
    f.loadEquivalency = below(50);
    l.push(`product ${number(f.nmea2000Version)} ${f.productCode} ${t.join(' ')} ` +
      `${f.certificationLevel} ${f.loadEquivalency}`);
  },
  59904(f, l) {
    f.pgn = pick([60928, 126996, 65226, 65253, 130312]);
    l.push(`request ${f.pgn}`);
  },
  59392(f, l) { // the library does not know the address that is acknowledged
    f.control = below(4);
    f.groupFunction = 255;
    f.pgn = pick([60928, 126996, 65226, 130312]);
    l.push(`acknowledgement ${f.control} ${f.pgn}`);
  },
  60928(f, l) {
    f.uniqueNumber = below(1 << 21);
    f.manufacturerCode = below(2047);
    f.deviceInstanceLower = below(8);
    f.deviceInstanceUpper = below(32);
    f.deviceFunction = below(256);
    f.spare = 0;
    f.deviceClass = below(128);
    f.systemInstance = below(16);
    f.industryGroup = below(8);
    f.arbitraryAddressCapable = below(2);
    l.push(`name ${f.uniqueNumber} ${f.manufacturerCode} ${f.deviceInstanceLower} ` +
      `${f.deviceInstanceUpper} ${f.deviceFunction} ${f.deviceClass} ${f.systemInstance} ` +
      `${f.industryGroup} ${f.arbitraryAddressCapable}`);
  },
};

// As measure, but half of what it sends stands at the edge of the width: lowest, highest, and the
// codes that are no numbers (the library puts them on the wire as they are told).
function edge(fields, lines, key, name, bits, step, signed = false) {
  const top = 2 ** (signed ? bits - 1 : bits) - 1;
  const edges = [[0], [1], [top - 3], [signed ? -(top + 1) : 2], [top - 2, 'error'],
    [top - 1, 'error'], [top, 'none'], [null, 'none']]
    // 24 bits: the library writes all ones, which is -1, for 0 and for what is not given
    .filter(([code]) => bits !== 24 || code);
  const [raw, status] = below(2) ? pick(edges) : [(1 + below(top - 4)) * (signed && below(2) ? -1 : 1)];
  if (raw !== null) fields[name] = raw * step;
  const figures = `${number(raw * step)} ${number(step / 2)}`;
  if (key.startsWith('~')) {
    if (!status) lines.push(`field ${key.slice(1)} 0 ${figures}`);
  } else {
    lines.push(status ? `${status} ${key}` : `value ${key} ${figures}`);
  }
}

// A list of codes; the last one of its width says nothing, the one before is an error.
function code(fields, lines, key, name, bits) {
  const top = 2 ** bits - 1, raw = below(3) ? below(Math.min(top + 1, 14)) : pick([top, top - 1]);
  fields[name] = raw;
  lines.push(raw === top ? `none ${key}` : raw === top - 1 ? `error ${key}` : `value ${key} ${raw} 0`);
}

function lineOf(f, l, key, n, line) {
  const one = { line: line - 1 };
  edge(one, l, `${key}-volts.${n}.${line}`, 'voltage', 16, 0.01);
  edge(one, l, `${key}-amps.${n}.${line}`, 'current', 16, 0.1);
  edge(one, l, `${key}-hertz.${n}.${line}`, 'frequency', 16, 0.01);
  edge(one, l, `${key}-watts.${n}.${line}`, 'realPower', 32, 1);
  one.breakerSize = below(1000) / 10;
  l.push(`field breaker ${f.list.length} ${number(one.breakerSize)} 0.05`);
  f.list.push(one);
}

function linesOf(key) {
  return (f, l) => {
    const n = (f.instance = below(253)), order = [1, 2, 3];
    f.list = [];
    f.numberOfLines = below(4);
    for (let i = 0; i < f.numberOfLines; i++)
      lineOf(f, l, key, n, order.splice(below(order.length), 1)[0]);
  };
}

function phase(p, parts) {
  return (f, l) => {
    const n = (f.connectionNumber = below(253));
    f.sid = below(253);
    for (const [key, ...how] of parts)
      edge(f, l, key.startsWith('~') ? key : `${key}.${n}.${p}`, ...how);
  };
}
const current = [['ac-amps', 'acRmsCurrent', 16, 0.1], ['ac-watts', 'power', 32, 1, true]];
const voltage = [['ac-volts', 'acVoltageLineToNeutral', 16, 0.1],
  ['~line-line_voltage', 'acVoltageLineToLine', 16, 0.1], ['ac-hertz', 'frequency', 16, 0.1]];

function alertOf(f) {
  f.alertType = below(14);
  f.alertCategory = below(14);
  f.alertSystem = below(253);
  f.alertSubSystem = below(253);
  f.alertId = below(65533);
  f.dataSourceNetworkIdName = 1 + below(2 ** 31);
  f.dataSourceInstance = below(253);
  f.dataSourceIndexSource = below(253);
  f.alertOccurrenceNumber = below(253);
  return `${f.alertType} ${f.alertSystem} ${f.alertId} ${f.alertOccurrenceNumber} ` +
    `${f.dataSourceInstance} ${f.dataSourceIndexSource}`;
}

// What came later: after the others, so that those keep their random values.
const more = {
  127503: linesOf('ac-in'),
  127504: linesOf('ac-out'),
  127507(f, l) {
    const n = (f.instance = below(253));
    f.batteryInstance = below(253);
    code(f, l, `charger.${n}`, 'operatingState', 4);
    f.chargeMode = below(4);
    f.enabled = below(4);
    f.equalizationPending = below(4);
    f.equalizationTimeRemaining = 60 * below(60000);
    l.push(`field equalisation_time_left 0 ${f.equalizationTimeRemaining / 60} 0.5`);
  },
  127509(f, l) {
    const n = (f.instance = below(253));
    f.acInstance = below(253);
    f.dcInstance = below(253);
    code(f, l, `inverter.${n}`, 'operatingState', 4);
    f.inverterEnable = below(4);
  },
  127513(f, l) {
    const n = (f.instance = below(253));
    f.batteryType = below(3);
    f.supportsEqualization = below(4);
    f.nominalVoltage = below(7);
    f.chemistry = below(5);
    edge(f, l, `battery-capacity.${n}`, 'capacity', 16, 1);
    if (f.capacity !== undefined) f.capacity *= 3600; // it takes coulombs
    edge(f, l, '~temperature_coefficient', 'temperatureCoefficient', 8, 1, true);
    edge(f, l, '~charge_efficiency', 'chargeEfficiencyFactor', 8, 1, true);
    l.push(`battery ${n} ${f.chemistry} ${f.batteryType} ${[6, 12, 24, 32, 36, 42, 48][f.nominalVoltage]}`);
  },
  127744: phase(1, current),
  127745: phase(2, current),
  127746: phase(3, current),
  127747: phase(1, voltage),
  127748: phase(2, voltage),
  127749: phase(3, voltage),
  127750(f, l) {
    const n = (f.connectionNumber = below(253));
    code(f, l, `converter.${n}`, 'operatingState', 8);
    for (const state of ['temperature', 'overload', 'lowDcVoltage', 'ripple'])
      f[`${state}State`] = below(4);
  },
  127751(f, l) {
    const n = (f.connectionNumber = below(253));
    edge(f, l, `dc-volts.${n}`, 'dcVoltage', 16, 0.1);
    edge(f, l, `dc-amps.${n}`, 'dcCurrent', 24, 0.01, true);
  },
  126983(f, l) {
    const which = alertOf(f);
    f.triggerCondition = below(4);
    f.thresholdStatus = below(6);
    f.alertPriority = below(253);
    f.alertState = below(6);
    l.push(`alert ${which} ${f.alertPriority} ${f.alertState}`);
  },
  126985(f, l) {
    const which = alertOf(f);
    f.languageId = below(2);
    f.alertTextDescription = text(30);
    f.alertLocationTextDescription = text(20);
    l.push(`alert ${which} ${f.alertTextDescription} ${f.alertLocationTextDescription}`);
  },
};

// The library hands a fast packet of at most 8 bytes out as one bare frame; on a bus it has frame
// counters and its length like any other.
function cut(pgn, frames) {
  const bare = definitions.getPGNWithNumber(pgn)[0].Type === 'Fast' && frames.length === 1;
  if (!bare) return frames;
  const m = /^(\S+\s+[0-9a-f]+)\s+\[\d+\]\s+(.*)$/.exec(frames[0]);
  const bytes = m[2].split(' '), parts = [];
  bytes.unshift(bytes.length.toString(16).padStart(2, '0'));
  for (let i = 0; bytes.length; i++) {
    const part = bytes.splice(0, 7);
    while (part.length < 7) part.push('ff');
    parts.push(`${m[1]}   [8]  ${(0x40 + i).toString(16)} ${part.join(' ')}`);
  }
  return parts;
}

function head(lines) {
  out = [...lines.map((s) => `# ${s}`), ''];
}

function makeIec() {
  head([
    'IEC 61162-3 messages, encoded and cut into frames by an independent open-source library:',
    `npm @canboat/canboatjs ${version('@canboat/canboatjs')} with @canboat/ts-pgns ` +
      `${version('@canboat/ts-pgns')}; seed ${seed}. Made by make.mjs.`,
    'frame ID#DATA, then what the message says:',
    'value KEY NUMBER TOLERANCE (half a step, in the unit of the channel), none KEY, error KEY,',
    'capacity LITRES TOLERANCE, status ENGINE WORD1 WORD2, clock EPOCH, heartbeat SECONDS SEQUENCE,',
    'field NAME INDEX NUMBER TOLERANCE (base unit), acknowledgement CONTROL PGN,',
    'battery INSTANCE CHEMISTRY TYPE VOLTS,',
    'alert TYPE SYSTEM ID OCCURRENCE INSTANCE INDEX, then PRIORITY STATE or DESCRIPTION LOCATION,',
    'product VERSION CODE MODEL SOFTWARE MODELVERSION SERIAL LEVEL LOAD, request PGN,',
    'name IDENTITY MANUFACTURER UNIT FUNCTIONINSTANCE FUNCTION CLASS CLASSINSTANCE GROUP ARBITRARY',
  ]);
  addMessages(messages, 16);
  const kept = state;
  state = seed + 1;
  addMessages(more, 30);
  state = kept; // as if these had not been made
  writeFileSync(new URL('iec.txt', import.meta.url), out.join('\n') + '\n');
}

function addMessages(list, rounds) {
  for (let round = 0; round < rounds; round++)
    for (const pgn of Object.keys(list).map(Number)) {
      const fields = {}, lines = [], src = below(254);
      list[pgn](fields, lines);
      const prio = below(8);
      const frames = cut(pgn, codec.pgnToCandump2({ pgn, prio, src, dst: 255, fields }));
      out.push(`message ${pgn} ${src} ${prio}`);
      for (const frame of frames) {
        const m = /^\S+\s+([0-9a-f]+)\s+\[\d+\]\s+(.*)$/.exec(frame);
        out.push(`frame ${m[1].toUpperCase()}#${m[2].replaceAll(' ', '').toUpperCase()}`);
      }
      out.push(...lines);
    }
}

// Which channel a signal of the DBC file is, with the engine's number behind it.
const spns = { S92: 'load', S190: 'rpm', S513: 'torque', S247: 'hours', S182: 'trip-fuel',
  S110: 'coolant', S174: 'fuel-temp', S175: 'oil-temp', S94: 'fuel-pressure',
  S100: 'oil-pressure', S109: 'coolant-pressure', S183: 'fuel-rate', S102: 'boost',
  S173: 'exhaust-gas', S98: 'oil-level', S111: 'coolant-level', S105: 'intake-air',
  S250: 'total-fuel', S167: 'alternator', S127: 'gear-oil-pressure', S177: 'gear-oil-temp',
  S523: 'gear-now', S5053: 'trip-fuel', S5054: 'total-fuel', S3562: 'manifold-pressure-2',
  S3563: 'manifold-pressure', S2433: 'exhaust-gas-right', S2434: 'exhaust-gas-left',
  S1636: 'intake-air', S1637: 'coolant', S2630: 'charge-air', S1135: 'oil-temp-2',
  S412: 'egr-temp', S975: 'fan', S157: 'rail-pressure', S103: 'turbo-speed' };
// Those of a generator, with its phase behind the engine's number: volts, hertz, amperes, watts.
const phases = {};
for (const p of [1, 2, 3]) {
  phases[`S${2444 + p}`] = ['ac-volts', p];
  phases[`S${2436 + p}`] = ['ac-hertz', p];
  phases[`S${2448 + p}`] = ['ac-amps', p];
  phases[`S${2452 + p}`] = ['ac-watts', p];
}
const fixed = { S168: 'battery-volts.0', S96: 'fuel-tank.0', S38: 'fuel-tank.1' };

function makeJ1939() {
  head([
    'SAE J1939 frames of random bytes, decoded by an independent open-source library from j1939.dbc:',
    `npm candied ${version('candied')}; seed ${seed}. Made by make.mjs. Lines as in iec.txt.`,
  ]);
  const file = new dbc.Dbc(), can = new dbc.Can();
  const data = file.load(readFileSync(new URL('j1939.dbc', import.meta.url), 'utf8'));
  can.database = data;
  for (let round = 0; round < 12; round++)
    for (const message of data.messages.values()) {
      const bytes = Array.from({ length: 8 }, () => below(251)); // none of the special codes
      const engine = below(2), id = message.id & 0x1fffffff;
      const signals = can.decode(can.createFrame(message.id, bytes, true))?.boundSignals ??
        can.decode(can.createFrame(id, bytes, true)).boundSignals;
      const hex = (n, width) => n.toString(16).toUpperCase().padStart(width, '0');
      out.push(`message ${(id >> 8) & 0x3ffff} ${engine} ${id >> 26}`);
      out.push(`frame ${hex((id | engine) >>> 0, 8)}#${bytes.map((b) => hex(b, 2)).join('')}`);
      for (const [name, s] of signals) {
        const [phase, p] = phases[name] ?? [];
        const key = fixed[name] ?? (phase ? `${phase}.${engine}.${p}`
          : spns[name] ? `${spns[name]}.${engine}` : null);
        if (key) out.push(`value ${key} ${number(s.value)} 0.00001`);
      }
    }
  writeFileSync(new URL('j1939.txt', import.meta.url), out.join('\n') + '\n');
}

// What the class and the function in a NAME stand for.
function makeFunctions() {
  head([
    'Classes and functions of marine devices (ISO 11783-5 NAME, as IEC 61162-3 uses it), listed by an',
    `independent open-source library: npm @canboat/ts-pgns ${version('@canboat/ts-pgns')}. Made by ` +
      'make.mjs.',
    'class CLASS ITS WORDS, function CLASS FUNCTION ITS WORDS (standards by their IEC numbers)',
  ]);
  const all = JSON.parse(readFileSync(
    new URL('node_modules/@canboat/ts-pgns/canboat.json', import.meta.url)));
  const standard = (words) => words.replace('NMEA 2000', 'IEC 61162-3')
    .replace('NMEA 0183', 'IEC 61162-1').replace('NMEA ', '');
  const values = (list, name) => list.find((e) => e.Name === name).EnumValues;
  for (const v of values(all.LookupEnumerations, 'DEVICE_CLASS'))
    out.push(`class ${v.Value} ${v.Name}`);
  for (const v of values(all.LookupIndirectEnumerations, 'DEVICE_FUNCTION'))
    out.push(`function ${v.Value1} ${v.Value2} ${standard(v.Name)}`);
  writeFileSync(new URL('device-functions.txt', import.meta.url), out.join('\n') + '\n');
}

makeIec();
makeJ1939();
makeFunctions();
