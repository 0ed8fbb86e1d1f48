import type { Locator, Page } from 'playwright-core'

/**
 * Operator times of the keystroke-level model: Card, S. K., Moran, T. P. & Newell, A. (1980). The keystroke-level
 * model for user performance time with interactive systems. Communications of the ACM 23(7), 396–410. Values from
 * memory: K of an average non-secretary typist (40 words a minute), the press of a mouse button as one K.
 */
export const OPERATOR_S = {
  /** One key or button. */
  keystroke: 0.28,
  /** The mouse to a target. */
  pointing: 1.1,
  /** The hand from keyboard to mouse or back. */
  homing: 0.4,
  /** Getting ready for a unit of action. */
  mental: 1.35,
} as const

export type Count = Record<keyof typeof OPERATOR_S, number>

/**
 * A person at a page, whose inputs are counted as they really reach it. One mental operator before every field
 * and every command: more than the rules of the model leave over, so that the estimate is not flattered.
 */
export class CountedPerson {
  readonly count: Count = { keystroke: 0, pointing: 0, homing: 0, mental: 0 }
  readonly #page: Page
  #hand: 'keyboard' | 'mouse'

  constructor(page: Page, hand: 'keyboard' | 'mouse') {
    this.#page = page
    this.#hand = hand
  }

  /** Seconds the counted inputs take an average person, without the waiting and reading in between. */
  get seconds(): number {
    return Object.entries(this.count).reduce(
      (sum, [operator, times]) => sum + times * OPERATOR_S[operator as keyof Count],
      0,
    )
  }

  /** Points at something and presses the button. */
  async click(target: Locator): Promise<void> {
    this.count.mental++
    this.#home('mouse')
    this.count.pointing++
    this.count.keystroke++
    await target.click()
  }

  /** Types into what has the focus. */
  async type(text: string): Promise<void> {
    this.count.mental++
    await this.#keys(text.length)
    await this.#page.keyboard.type(text)
  }

  /** Presses one key as a command. */
  async command(key: string): Promise<void> {
    this.count.mental++
    await this.#keys(1)
    await this.#page.keyboard.press(key)
  }

  /** Walks with the Tab key until the target has the focus: as many presses as the page makes it. */
  async tabTo(target: Locator, most = 60): Promise<void> {
    const there = () => target.evaluate((element) => element === document.activeElement)
    for (let presses = 0; !(await there()); presses++) {
      if (presses === most) throw new Error(`not reached by ${most} presses of Tab: ${target.toString()}`)
      await this.#keys(1)
      await this.#page.keyboard.press('Tab')
    }
  }

  async #keys(times: number) {
    this.#home('keyboard')
    this.count.keystroke += times
  }

  #home(to: 'keyboard' | 'mouse') {
    if (this.#hand === to) return
    this.#hand = to
    this.count.homing++
  }
}
