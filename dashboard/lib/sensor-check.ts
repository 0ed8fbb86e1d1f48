import { STANDARD_GRAVITY_MS2 } from '#signal/constants'
import { decimal, percent, significant } from './format'

/** What a sensor shows of itself while it is watched before a recording. */
export interface SensorReading {
  nominalRateHz: number | null
  measuredRateHz: number | null
  /** 0..1. */
  lossShare: number
  /** Mean |a| of the newest second, m/s²; null before the first sample. */
  accelerationMs2: number | null
  batteryPercent: number | null
  resolutionMs2: number | null
}

export interface CheckLine {
  name: string
  value: string
  /** What to make of it, in words; empty when there is nothing to say. */
  words: string
  /** True when a person should look after it before starting. */
  trouble: boolean
}

/** Limits of the check before a recording. Common practice, no source, but for where one is named. */
const MAX_RATE_ERROR = 0.05
const MAX_LOSS = 0.05
/** Plausible |a| at rest, g: a sensor in other units or badly scaled lies far outside. */
const LEAST_G = 0.8
const MOST_G = 1.2
const LOW_BATTERY_PERCENT = 20
/** Steps coarser than this can hide the sway of a quiet stand, m/s². */
const COARSE_MS2 = 0.05

/** The lines of the sensor check; what is not known yet says so. */
export function sensorCheck(reading: SensorReading): CheckLine[] {
  return [
    rateLine(reading),
    lossLine(reading),
    gravityLine(reading),
    resolutionLine(reading),
    batteryLine(reading),
  ]
}

function rateLine({ nominalRateHz, measuredRateHz }: SensorReading): CheckLine {
  const name = 'Rate'
  if (nominalRateHz === null) return { name, value: '–', words: 'not known yet', trouble: false }
  const stated = `${significant(nominalRateHz, 4)} Hz stated`
  if (measuredRateHz === null)
    return { name, value: stated, words: 'being measured, about 5 s', trouble: false }
  const off = measuredRateHz / nominalRateHz - 1
  const trouble = Math.abs(off) > MAX_RATE_ERROR
  return {
    name,
    value: `${decimal(measuredRateHz, 1)} Hz measured, ${stated}`,
    words: trouble ? 'far from what the sensor states; the measured rate is used' : 'as stated, within 5 %',
    trouble,
  }
}

function lossLine({ lossShare, measuredRateHz }: SensorReading): CheckLine {
  const trouble = lossShare > MAX_LOSS
  const known = measuredRateHz !== null || lossShare > 0
  return {
    name: 'Lost samples',
    value: known ? percent(lossShare) : '–',
    words: !known
      ? 'being counted'
      : trouble
        ? 'too many: bring sensor and device closer together'
        : 'of the last 30 s',
    trouble,
  }
}

function gravityLine({ accelerationMs2 }: SensorReading): CheckLine {
  const name = 'Gravity'
  if (accelerationMs2 === null) return { name, value: '–', words: 'nothing has come yet', trouble: false }
  const g = accelerationMs2 / STANDARD_GRAVITY_MS2
  const trouble = g < LEAST_G || g > MOST_G
  return {
    name,
    value: `${decimal(g, 2)} g`,
    words: trouble
      ? 'at rest it should lie between 0.8 and 1.2 g: the unit or the scale may be wrong, or the dog is moving'
      : 'plausible at rest (0.8 to 1.2 g)',
    trouble,
  }
}

function resolutionLine({ resolutionMs2 }: SensorReading): CheckLine {
  const name = 'Smallest step'
  if (resolutionMs2 === null) return { name, value: '–', words: 'not stated by the sensor', trouble: false }
  const trouble = resolutionMs2 > COARSE_MS2
  return {
    name,
    value: `${significant(resolutionMs2 * 1000, 2)} mm/s²`,
    words: trouble ? 'coarse: a very quiet stand can look stiller than it is' : '',
    trouble,
  }
}

function batteryLine({ batteryPercent }: SensorReading): CheckLine {
  const name = 'Battery'
  if (batteryPercent === null) return { name, value: '–', words: 'not told by the sensor', trouble: false }
  const trouble = batteryPercent < LOW_BATTERY_PERCENT
  return {
    name,
    value: `${decimal(batteryPercent, 0)} %`,
    words: trouble ? 'low: charge it first' : '',
    trouble,
  }
}
