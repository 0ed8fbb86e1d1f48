import type { DeliveryOptions } from '#signal/simulator/delivery'
import { JUNIPER } from '#signal/simulator/programme'
import type { Episode, HoldEpisode, SessionScript, Support, Surface } from '#signal/simulator/script'
import type { DelimitedForm, TraceForm } from './formats.ts'

export interface Sample {
  /** File name without folder; its ending tells the form. */
  readonly file: string
  readonly holds: string
  readonly script: SessionScript
  readonly delivery?: DeliveryOptions
  readonly form: TraceForm
}

const STARTED_AT_US = Date.UTC(2026, 2, 14, 17, 20, 0) * 1000

const CSV: DelimitedForm = {
  kind: 'csv',
  delimiter: ',',
  decimal: '.',
  time: 's',
  accUnit: 'm/s2',
  decimals: 3,
  header: ['t_s', 'ax_mps2', 'ay_mps2', 'az_mps2'],
  marks: false,
}
const IN_G: Partial<DelimitedForm> = {
  accUnit: 'g',
  decimals: 4,
  header: ['time [s]', 'acc_x [g]', 'acc_y [g]', 'acc_z [g]'],
}

const quietStand: Episode = { kind: 'quiet-stand', durationS: 12 }
const walk: Episode = { kind: 'walk', durationS: 5 }
const stepUp: Episode = { kind: 'step-up', durationS: 2 }
const stepDown: Episode = { kind: 'step-down', durationS: 1.8 }
const shuffle: Episode = { kind: 'step', durationS: 0.5, peakMs2: 2.2 }
const rest = (durationS: number): Episode => ({ kind: 'rest', durationS })
const hold = (support: Support, durationS: number, surface: Surface = 'foam pad'): HoldEpisode => ({
  kind: 'hold',
  durationS,
  support,
  surface,
})

/** One repetition on the foam pad: up, steadied, let go, down. */
const foamRepetition = (handsOffS: number): Episode[] => [
  stepUp,
  hold('hands-on', 4),
  hold('hands-off', handsOffS),
  stepDown,
]

/** Every sample trace of the folder, in the order of its README. */
export const SAMPLES: readonly Sample[] = [
  {
    file: 'quiet-stand.csv',
    holds: 'a quiet stand on the floor, nothing else',
    script: {
      seed: 'quiet stand',
      rateHz: 100,
      dog: JUNIPER,
      episodes: [{ kind: 'quiet-stand', durationS: 45 }],
      marks: 'none',
    },
    form: CSV,
  },
  {
    file: 'foam-hands-off.csv',
    holds: 'three repetitions on the foam pad, the last two straight hands-off; support and mark columns',
    script: {
      seed: 'foam hands off',
      startedAtUs: STARTED_AT_US,
      rateHz: 100,
      dog: { ...JUNIPER, weakness: { per10S: 0.1, perRepetition: 0.12 } },
      episodes: [
        quietStand,
        walk,
        rest(5),
        ...foamRepetition(10),
        rest(7),
        stepUp,
        hold('hands-off', 9),
        stepDown,
        rest(7),
        stepUp,
        hold('hands-off', 8),
        stepDown,
        rest(3),
      ],
    },
    form: { ...CSV, ...IN_G, marks: true, comments: ['# started: 2026-03-14T17:20:00Z', '# unit: g'] },
  },
  {
    file: 'foam-hand-support.tsv',
    holds: 'hands on and off within unbroken stands on the foam pad; gyroscope; support and mark columns',
    script: {
      seed: 'foam hand support',
      rateHz: 50,
      dog: JUNIPER,
      sensor: { gyroscope: true, stepMs2: 0.0048 },
      episodes: [
        quietStand,
        rest(5),
        stepUp,
        hold('hands-on', 6),
        hold('hands-off', 8),
        hold('hands-on', 5),
        hold('hands-off', 7),
        stepDown,
        rest(8),
        stepUp,
        hold('hands-on', 12),
        stepDown,
        rest(4),
      ],
      marks: { lagS: 0.25, sdS: 0.1 },
    },
    form: {
      ...CSV,
      kind: 'tsv',
      delimiter: '\t',
      accUnit: 'mg',
      decimals: 1,
      time: 'ms',
      header: ['time_ms', 'acc_x_mg', 'acc_y_mg', 'acc_z_mg', 'gyro_x_dps', 'gyro_y_dps', 'gyro_z_dps'],
      marks: true,
    },
  },
  {
    file: 'rocker-steps.csv',
    holds: 'fore paws on the rocker board with corrective steps and one loss of balance; no marks',
    script: {
      seed: 'rocker steps',
      rateHz: 104,
      dog: JUNIPER,
      sensor: { noiseMs2: 0.015, stepMs2: 0.0024 },
      episodes: [
        quietStand,
        walk,
        rest(4),
        stepUp,
        hold('hands-on', 3, 'rocker board'),
        hold('hands-off', 7, 'rocker board'),
        shuffle,
        hold('hands-off', 5, 'rocker board'),
        { kind: 'step', durationS: 0.3, peakMs2: 0.9 },
        hold('hands-off', 6, 'rocker board'),
        stepDown,
        rest(6),
        stepUp,
        hold('hands-off', 6, 'rocker board'),
        { kind: 'wobble-off', durationS: 2 },
        rest(4),
      ],
      marks: 'none',
    },
    form: { ...CSV, decimals: 4, header: ['timestamp', 'ax', 'ay', 'az'] },
  },
  {
    file: 'sit-between.csv',
    holds:
      'a dog that sits down twice, once on the foam pad; semicolons and decimal commas; support and mark columns',
    script: {
      seed: 'sit between',
      rateHz: 25,
      dog: JUNIPER,
      episodes: [
        quietStand,
        walk,
        { kind: 'sit', durationS: 9, pitchDeg: 38 },
        rest(4),
        stepUp,
        hold('hands-off', 8),
        { kind: 'sit', durationS: 7, pitchDeg: 24 },
        hold('hands-off', 6),
        stepDown,
        rest(6),
        ...foamRepetition(9),
        rest(4),
      ],
    },
    form: { ...CSV, ...IN_G, delimiter: ';', decimal: ',', marks: true },
  },
  {
    file: 'panting.csv',
    holds: 'two repetitions, panting at 4.9 Hz from the second on; milliseconds',
    script: {
      seed: 'panting',
      rateHz: 50,
      dog: JUNIPER,
      episodes: [
        quietStand,
        walk,
        rest(5),
        ...foamRepetition(10),
        rest(8),
        ...foamRepetition(10),
        rest(8),
        quietStand,
      ],
      overlays: [{ kind: 'pant', fromS: 42, toS: 120, frequencyHz: 4.9, rmsMs2: 0.22 }],
    },
    form: {
      ...CSV,
      time: 'ms',
      header: ['time (ms)', 'acc_x (m/s^2)', 'acc_y (m/s^2)', 'acc_z (m/s^2)'],
      marks: true,
    },
  },
  {
    file: 'tail-wag.csv',
    holds: 'a wagging tail at 3.2 Hz in the middle of a hold; ISO time stamps',
    script: {
      seed: 'tail wag',
      startedAtUs: STARTED_AT_US + 86_400_000_000,
      rateHz: 50,
      dog: JUNIPER,
      sensor: { gyroscope: true },
      episodes: [quietStand, rest(5), ...foamRepetition(20), rest(4)],
      overlays: [{ kind: 'tail-wag', fromS: 31, toS: 39, frequencyHz: 3.2, rmsMs2: 0.25 }],
    },
    form: {
      ...CSV,
      time: 'iso',
      header: ['timestamp', 'ax [m/s²]', 'ay [m/s²]', 'az [m/s²]', 'gx [deg/s]', 'gy [deg/s]', 'gz [deg/s]'],
      marks: true,
    },
  },
  {
    file: 'tremor.csv',
    holds: 'a tremor of 8.4 Hz, 0.09 m/s² RMS over three axes, in every hold',
    script: {
      seed: 'tremor',
      rateHz: 200,
      dog: { ...JUNIPER, tremor: { frequencyHz: 8.4, rmsMs2: 0.09, when: 'holds' } },
      episodes: [quietStand, rest(3), ...foamRepetition(14), rest(2)],
    },
    form: { ...CSV, accUnit: 'mg', decimals: 1, header: ['t_s', 'ax_mg', 'ay_mg', 'az_mg'], marks: true },
  },
  {
    file: 'fast-tremor.csv',
    holds: 'a tremor of 14.2 Hz, 0.12 m/s² RMS over three axes, in two bursts of a quiet stand; no marks',
    script: {
      seed: 'fast tremor',
      rateHz: 100,
      dog: {
        ...JUNIPER,
        tremor: {
          frequencyHz: 14.2,
          rmsMs2: 0.12,
          when: [
            { fromS: 8, toS: 16 },
            { fromS: 24, toS: 36 },
          ],
        },
      },
      episodes: [{ kind: 'quiet-stand', durationS: 40 }],
      marks: 'none',
    },
    form: { ...CSV, ...IN_G, header: ['Time', 'AccX', 'AccY', 'AccZ'] },
  },
  {
    file: 'radio-loss.csv',
    holds: 'two repetitions over a poor radio link: lost packets, sampling jitter, a clock 60 ppm fast',
    script: {
      seed: 'radio loss',
      rateHz: 100,
      dog: JUNIPER,
      clock: { ppm: 60, jitterS: 0.0006 },
      episodes: [quietStand, walk, rest(4), ...foamRepetition(11), rest(5), ...foamRepetition(9), rest(3)],
    },
    delivery: {
      seed: 'radio loss',
      samplesPerPacket: 8,
      lossRate: 0.012,
      stalls: { perMinute: 1, meanS: 0.4 },
    },
    form: { ...CSV, marks: true },
  },
  {
    file: 'rotated-mount.csv',
    holds: 'sensor put on any way round, slipping by 18° halfway; handling and lying down',
    script: {
      seed: 'rotated mount',
      rateHz: 100,
      dog: JUNIPER,
      mount: {
        rotation: { rollDeg: 118, pitchDeg: -32, yawDeg: 71 },
        slip: { atS: 44.5, turn: { rollDeg: 18, pitchDeg: 0, yawDeg: 0 } },
      },
      sensor: { biasMs2: [0.12, -0.08, 0.15], scaleError: [0.008, -0.006, 0.01] },
      episodes: [
        quietStand,
        walk,
        rest(3),
        ...foamRepetition(10),
        rest(4),
        { kind: 'handling', durationS: 4 },
        ...foamRepetition(9),
        { kind: 'lie', durationS: 8 },
      ],
    },
    form: { ...CSV, marks: true },
  },
  {
    file: 'phone.csv',
    holds:
      'a phone in the harness: 60 Hz, steps of 0.1 m/s², uneven time stamps in whole milliseconds since 1970',
    script: {
      seed: 'phone',
      startedAtUs: STARTED_AT_US + 2 * 86_400_000_000,
      rateHz: 60,
      dog: JUNIPER,
      mount: { rotation: { rollDeg: 4, pitchDeg: -7, yawDeg: 92 } },
      sensor: { noiseMs2: 0.03, stepMs2: 0.1 },
      clock: { ppm: -40, jitterS: 0.0015 },
      episodes: [quietStand, walk, rest(4), ...foamRepetition(12), rest(6), ...foamRepetition(10), rest(4)],
    },
    form: {
      ...CSV,
      time: 'epoch ms',
      decimals: 1,
      header: ['timestamp_ms', 'x', 'y', 'z'],
      comments: ['# unit: m/s2'],
      marks: true,
    },
  },
  {
    file: 'whole-session.json',
    holds: 'a short whole session with marks: three repetitions, a tremor, a stumble, tail wag at the end',
    script: {
      seed: 'whole session',
      startedAtUs: STARTED_AT_US + 3 * 86_400_000_000,
      rateHz: 50,
      dog: { ...JUNIPER, tremor: { frequencyHz: 8.2, rmsMs2: 0.05, when: 'holds' } },
      mount: { rotation: { rollDeg: 2, pitchDeg: -8, yawDeg: 1 } },
      episodes: [
        quietStand,
        walk,
        rest(8),
        ...foamRepetition(10),
        rest(15),
        stepUp,
        hold('hands-on', 4),
        hold('hands-off', 7),
        shuffle,
        hold('hands-off', 6),
        stepDown,
        rest(15),
        ...foamRepetition(8),
        rest(10),
      ],
      overlays: [{ kind: 'tail-wag', fromS: 111, toS: 118, frequencyHz: 3, rmsMs2: 0.25 }],
      marks: { lagS: 0.25, sdS: 0.1 },
    },
    form: { kind: 'json', accUnit: 'm/s2', decimals: 3 },
  },
]
