import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { fileURLToPath } from 'node:url'
import { pythonWithDbus } from './needs.mjs'
import { openPrivateBus } from './private-bus.ts'

const PROGRAM = fileURLToPath(new URL('stand_in_radio.py', import.meta.url))
const BASE = '-0000-1000-8000-00805f9b34fb'

/** The sensor as `stand_in_radio.py` reads it. */
interface SensorPlan {
  name: string
  advertised: string[]
  services: {
    uuid: string
    characteristics: { uuid: string; flags: string[]; value?: string }[]
  }[]
  /** The characteristic that is notified. */
  stream: string
  packets: string[]
  packetIntervalS: number
  present: boolean
}

export interface StandInOptions {
  readonly service: string
  readonly characteristic: string
  /** Hex; packet k is taken k + 1 intervals after the sensor was switched on. */
  readonly packets: readonly string[]
  readonly packetsPerS: number
  readonly name?: string
  readonly batteryPercent?: number
  /** A characteristic that can be written. */
  readonly control?: string
  /** False: out of reach until `appear`. */
  readonly present?: boolean
}

export type Command =
  | { do: 'appear' | 'vanish' | 'drop' | 'reboot' | 'restart-counter' }
  | { do: 'reach'; how: 'open' | 'refuse' | 'hang' }
  | { do: 'lose' | 'repeat'; packets: number }
  | { do: 'stall'; seconds: number; keeps?: boolean }
  | { do: 'send'; bytes: string }

/** What the stand-in reported. */
export interface RadioEvent {
  readonly event: string
  readonly packet?: number
  readonly uuid?: string
  readonly bytes?: string
  readonly why?: string
  /** When this process read it, ms on `performance.now()`. */
  readonly atMs: number
}

/** A sensor on a private bus, in place of a radio and a Bluetooth daemon. */
export interface StandInSensor {
  /** For the environment of the browser. */
  readonly busAddress: string
  readonly events: readonly RadioEvent[]
  /** The packets that were notified, in order, repeats included. */
  sentPackets(): number[]
  /** Resolves when the stand-in has done it. */
  tell(command: Command): Promise<void>
  close(): Promise<void>
}

export async function openStandInSensor(options: StandInOptions): Promise<StandInSensor> {
  const bus = await openPrivateBus()
  const file = join(bus.folder, 'sensor.json')
  await writeFile(file, JSON.stringify(planOf(options)))
  const radio = spawn(pythonWithDbus() ?? 'python3', [PROGRAM, bus.address, file], {
    stdio: ['pipe', 'pipe', 'pipe'],
  })
  let errors = ''
  radio.stderr.on('data', (chunk: Buffer) => (errors += chunk.toString()))
  const ended = once(radio, 'exit')
  const events: RadioEvent[] = []
  const done: (() => void)[] = []
  const ready = new Promise<void>((resolve) => {
    createInterface({ input: radio.stdout }).on('line', (line) => {
      const event = { ...(JSON.parse(line) as RadioEvent), atMs: performance.now() }
      if (event.event === 'ready') resolve()
      else if (event.event === 'done') done.shift()?.()
      else events.push(event)
    })
  })
  const failure = () => new Error(`the stand-in radio ended: ${errors}`)
  await Promise.race([ready, ended.then(() => Promise.reject(failure()))])
  return {
    busAddress: bus.address,
    events,
    sentPackets: () => events.filter(({ event }) => event === 'sent').map(({ packet }) => packet!),
    async tell(command) {
      const obeyed = new Promise<void>((resolve) => done.push(resolve))
      radio.stdin.write(`${JSON.stringify(command)}\n`)
      await Promise.race([obeyed, ended.then(() => Promise.reject(failure()))])
    },
    async close() {
      radio.stdin.end()
      await ended
      await bus.close()
      if (errors !== '') throw new Error(`the stand-in radio complained: ${errors}`)
    },
  }
}

function planOf(options: StandInOptions): SensorPlan {
  const { service, characteristic, batteryPercent, control } = options
  const hex = (text: string) => Buffer.from(text).toString('hex')
  return {
    name: options.name ?? 'Harness 12',
    advertised: [service],
    services: [
      {
        uuid: service,
        characteristics: [
          { uuid: characteristic, flags: ['notify'] },
          ...(control ? [{ uuid: control, flags: ['write'] }] : []),
        ],
      },
      ...(batteryPercent === undefined
        ? []
        : [
            {
              uuid: `0000180f${BASE}`,
              characteristics: [
                {
                  uuid: `00002a19${BASE}`,
                  flags: ['read'],
                  value: Buffer.of(batteryPercent).toString('hex'),
                },
              ],
            },
          ]),
      {
        uuid: `0000180a${BASE}`,
        characteristics: [
          { uuid: `00002a24${BASE}`, flags: ['read'], value: hex('Stand-in') },
          { uuid: `00002a26${BASE}`, flags: ['read'], value: hex('1.0') },
        ],
      },
    ],
    stream: characteristic,
    packets: [...options.packets],
    packetIntervalS: 1 / options.packetsPerS,
    present: options.present ?? true,
  }
}
