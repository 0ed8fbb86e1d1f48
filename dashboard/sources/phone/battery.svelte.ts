/** The part of the Battery Status API used here; only some browsers have it. */
interface BatteryLike extends EventTarget {
  readonly level: number
  readonly charging: boolean
}

/** At this charge, percent, and not charging, a recording ends and is saved while there is power to do so. */
export const LAST_CHARGE_PERCENT = 5

/** The phone's battery, as far as the browser tells. */
export class PhoneBattery {
  /** Null when the browser does not tell. */
  percent = $state<number | null>(null)
  charging = $state(false)
  readonly empty: boolean = $derived(
    this.percent !== null && this.percent <= LAST_CHARGE_PERCENT && !this.charging,
  )

  #battery: BatteryLike | null = null

  async watch(browser: object = navigator) {
    const { getBattery } = browser as { getBattery?: () => Promise<BatteryLike> }
    if (!getBattery) return
    try {
      this.#battery = await getBattery.call(browser)
    } catch {
      // Not told to this page: nothing is shown, which the page says.
      return
    }
    this.#read()
    this.#battery.addEventListener('levelchange', this.#read)
    this.#battery.addEventListener('chargingchange', this.#read)
  }

  stop() {
    this.#battery?.removeEventListener('levelchange', this.#read)
    this.#battery?.removeEventListener('chargingchange', this.#read)
    this.#battery = null
  }

  readonly #read = () => {
    if (!this.#battery) return
    this.percent = Math.round(this.#battery.level * 100)
    this.charging = this.#battery.charging
  }
}
