import { describe, expect, test } from 'vitest'
import { parseColumns, parseTrace } from '../../../signal/trace/parse.ts'
import { codeOf, errorOf } from './trace-errors.ts'
import { csv, stillRow } from './made-csv.ts'

describe('column names', () => {
  const spellings: [string, string][] = [
    ['t,ax,ay,az', 'm/s2'],
    ['time,x,y,z', 'm/s2'],
    ['Time,AccX,AccY,AccZ', 'm/s2'],
    ['timestamp,acceleration.x,acceleration.y,acceleration.z', 'm/s2'],
    ['seconds_elapsed,acc_x,acc_y,acc_z', 'm/s2'],
    ['t_sec,ABack_x,ABack_y,ABack_z', 'm/s2'],
    ['time (s),ax (m/s^2),ay (m/s^2),az (m/s^2)', 'm/s2'],
    ['t_s,accel_x_mps2,accel_y_mps2,accel_z_mps2', 'm/s2'],
    ['t [s],X-axis acceleration [m/s²],Y-axis acceleration [m/s²],Z-axis acceleration [m/s²]', 'm/s2'],
  ]
  test.each(spellings)('%s is understood', (header, unit) => {
    const { trace, unit: found } = parseTrace(csv(header, stillRow))
    expect(found).toBe(unit)
    expect(trace.acc.x[7]).toBe(0.1)
    expect(trace.acc.y[7]).toBe(-0.2)
    expect(trace.acc.z[7]).toBe(9.8)
    expect(trace.t[7]).toBe(0.07)
    expect(trace.rateHz).toBe(100)
  })

  test('columns in any order are found by name', () => {
    const { trace } = parseTrace(csv('az,label,t,ax,ay', (i) => `9.8,stand,${i / 50},1,2`))
    expect([trace.acc.x[3], trace.acc.y[3], trace.acc.z[3], trace.rateHz]).toEqual([1, 2, 9.8, 50])
  })

  test('gyroscope, magnetometer and acceleration side by side are told apart', () => {
    const header = 't,ax,ay,az,gx (rad/s),gy (rad/s),gz (rad/s),mx,my,mz'
    const { trace } = parseTrace(csv(header, (i) => `${i / 100},0,0,9.8,1,2,3,40,50,60`))
    expect(trace.acc.z[0]).toBe(9.8)
    expect(trace.gyr?.y[0]).toBe(2)
  })

  test('linear acceleration is passed over when the full acceleration is there', () => {
    const header = 't,linear_acc_x,linear_acc_y,linear_acc_z,acc_x,acc_y,acc_z'
    const { trace } = parseTrace(csv(header, (i) => `${i / 100},0.1,0.1,0.1,0,0,9.8`))
    expect(trace.acc.z[0]).toBe(9.8)
  })
})

// Column layout of Vehkaoja et al., "Movement sensor dataset for dog behavior classification";
// names, 0.01 s steps and the first back sample as seen in a published notebook. Values otherwise made.
describe('two sensors in one file', () => {
  const header =
    'DogID,TestNum,t_sec,ABack_x,ABack_y,ABack_z,ANeck_x,ANeck_y,ANeck_z,GBack_x,GBack_y,GBack_z,' +
    'GNeck_x,GNeck_y,GNeck_z,Task,Behavior_1,Behavior_2,Behavior_3,PointEvent'
  const text = csv(
    header,
    (i) =>
      `16,1,${(i / 100).toFixed(2)},0.041504,0.938965,-0.015137,-0.067871,-0.510254,-0.93457,` +
      `18,0,0,1,2,3,Task stand,Standing,<undefined>,<undefined>,<undefined>`,
  )

  test('they are not chosen between, and the error lists both with the way to choose', () => {
    const error = errorOf(() => parseTrace(text))
    expect(error.code).toBe('AMBIGUOUS_COLUMNS')
    expect(error.message).toContain('"ABack_x", "ABack_y", "ABack_z"; "ANeck_x", "ANeck_y", "ANeck_z"')
    expect(error.remedy).toContain('columns ax=ABack_x,ay=ABack_y,az=ABack_z')
  })

  test('a mapping picks one; time and unit are still found', () => {
    const columns = parseColumns('t=t_sec,ax=ABack_x,ay=ABack_y,az=ABack_z,gx=10,gy=11,gz=12')
    const found = parseTrace(
      text.replace('GBack_x,GBack_y,GBack_z', 'GBack_x [deg/s],GBack_y [deg/s],GBack_z [deg/s]'),
      {
        columns,
      },
    )
    expect([found.unit, found.unitBasis, found.trace.rateHz]).toEqual(['g', 'median norm', 100])
    expect(found.trace.acc.y[0]).toBe(0.938965 * 9.80665)
    expect(found.trace.gyr?.x[0]).toBeCloseTo(Math.PI / 10, 14) // 18 deg/s
    expect(found.trace.gyr?.z[0]).toBe(0)
  })
})

describe('files without a header', () => {
  test('three columns and a rate are the axes, and a note says so', () => {
    const { trace, notes } = parseTrace(
      csv(null, () => '0,0,1'),
      { rateHz: 50 },
    )
    expect(trace.t[100]).toBe(2)
    expect(trace.acc.z[0]).toBe(9.80665)
    expect(notes.join()).toContain('no header')
  })
  test('three columns without a rate are refused', () => {
    expect(codeOf(() => parseTrace(csv(null, () => '0,0,1')))).toBe('NO_TIME')
  })
  test('four columns whose first does not ascend are refused, asking for the columns', () => {
    const error = errorOf(() => parseTrace(csv(null, (i) => `${i % 3},0,0,1`)))
    expect(error.code).toBe('NO_COLUMNS')
    expect(error.remedy).toContain('columns')
  })
  const stepOf = { s: 0.01, ms: 10, us: 10_000, ns: 10_000_000 }
  test.each(Object.entries(stepOf))('stamps in %s are told from their step', (unit, step) => {
    const { trace, notes } = parseTrace(csv(null, (i) => `${i * step},0,0,1`))
    expect(trace.rateHz).toBe(100)
    expect(notes.join()).toContain(`inferred from its median step: ${unit}`)
  })
  test('stamps whose step fits no unit are refused', () => {
    expect(codeOf(() => parseTrace(csv(null, (i) => `${i * 300},0,0,1`)))).toBe('BAD_RATE')
  })
})

describe('column mappings', () => {
  test('names may hold commas and equals signs', () => {
    expect(parseColumns('t=time, s,ax=a=x,ay=2,az=z')).toEqual({ t: 'time, s', ax: 'a=x', ay: 2, az: 'z' })
  })
  test.each(['', 'ax=1', 'ax=1,ay=2', 'ax=1,ay=2,az=', 'ax=1,ax=2,ay=3,az=4', 'q=1', 'ax=1,ay=2,az=3,gx=4'])(
    '"%s" is refused',
    (spec) => expect(codeOf(() => parseColumns(spec))).toBe('BAD_MAPPING'),
  )
  test('a name that is not there is refused with the names that are', () => {
    const error = errorOf(() =>
      parseTrace(csv('t,ax,ay,az', stillRow), { columns: { ax: 'foo', ay: 3, az: 4 } }),
    )
    expect(error.message).toContain('no column is named "foo"')
    expect(error.message).toContain('"t", "ax", "ay", "az"')
  })
  test.each([0, 5, 1.5, NaN])('column number %s of a file with four is refused', (column) => {
    const columns = { t: 1, ax: column, ay: 3, az: 4 }
    expect(codeOf(() => parseTrace(csv('t,ax,ay,az', stillRow), { columns }))).toBe('NO_COLUMNS')
  })
  test('the time alone could not be named, though the refusal of a file without one asks for just that', () => {
    const file = csv('Zeit,acc_x [m/s2],acc_y [m/s2],acc_z [m/s2]', (i) => `${i / 100},0,0,9.81`)
    const refusal = errorOf(() => parseTrace(file))
    expect(refusal.code).toBe('NO_TIME')
    expect(refusal.message).toContain('"Zeit", "acc_x [m/s2]"')
    expect(parseTrace(file, { columns: parseColumns('t=Zeit') }).trace.rateHz).toBe(100)
    expect(parseTrace(file, { columns: { t: 1 } }).trace.acc.z[0]).toBe(9.81)
  })
  test('the time alone does not make up axes', () => {
    const unnamed = csv('when,a,b,c', (i) => `${i / 100},0,0,9.81`)
    expect(codeOf(() => parseTrace(unnamed, { columns: { t: 1 } }))).toBe('NO_COLUMNS')
    const bare = csv(null, (i) => `${i / 100},0,0,9.81`)
    expect(codeOf(() => parseTrace(bare, { columns: { t: 1 } }))).toBe('NO_COLUMNS')
  })
  test('a mapping without t uses the rate given, else finds the time by name', () => {
    const columns = { ax: 'ax', ay: 'ay', az: 'az' }
    expect(parseTrace(csv('t,ax,ay,az', stillRow), { columns, rateHz: 50 }).trace.rateHz).toBe(50)
    expect(parseTrace(csv('t,ax,ay,az', stillRow), { columns }).trace.rateHz).toBe(100)
  })
})
