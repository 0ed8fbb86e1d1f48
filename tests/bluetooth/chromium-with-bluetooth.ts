import type { Browser, Page } from 'playwright-core'
import { launchChromium } from '../helpers/browser.ts'
import type { StandInSensor } from './stand-in-sensor.ts'

/** Chromium on the bus of the stand-in; on Linux its Web Bluetooth has to be switched on. */
export function launchBluetoothChromium(sensor: StandInSensor): Promise<Browser> {
  return launchChromium({
    args: ['--enable-blink-features=WebBluetooth'],
    env: { DBUS_SYSTEM_BUS_ADDRESS: sensor.busAddress },
  })
}

/**
 * Answers the browser's list from now on as a person would: picks the device called `name` as soon as it is
 * in the list, or closes the list when `name` is null. The list is reported more than once; it is answered once.
 */
export async function answerChooser(page: Page, name: string | null): Promise<{ readonly opened: number }> {
  const access = await page.context().newCDPSession(page)
  await access.send('DeviceAccess.enable')
  const answered = new Set<string>()
  access.on('DeviceAccess.deviceRequestPrompted', ({ id, devices }) => {
    const device = devices.find((one) => one.name.includes(name ?? ''))
    if (answered.has(id) || (name !== null && !device)) return
    answered.add(id)
    void (name === null
      ? access.send('DeviceAccess.cancelPrompt', { id })
      : access.send('DeviceAccess.selectPrompt', { id, deviceId: device!.id }))
  })
  return {
    get opened() {
      return answered.size
    },
  }
}
