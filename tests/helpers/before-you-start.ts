import type { Page } from 'playwright-core'

/** Fills in and confirms the set-up on the Before you start screen of a dog without sessions. */
export async function confirmSetUp(page: Page): Promise<void> {
  await page.getByLabel('Exercise', { exact: false }).first().fill('stand on foam pad')
  await page.getByLabel('Surface', { exact: false }).first().fill('foam pad')
  await page.getByRole('button', { name: 'This is the set-up' }).click()
}

/** From the Before you start screen to a recording of the simulated harness, at its quiet stand. */
export async function startSimulated(page: Page): Promise<void> {
  await confirmSetUp(page)
  await page.getByRole('radio', { name: 'Simulated harness' }).check()
  await page.getByRole('button', { name: 'Start the simulated harness' }).click()
  await page.getByRole('button', { name: 'Start', exact: true }).click()
}
