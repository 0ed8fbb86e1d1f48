/** Where a limit or a piece of advice comes from. */
export const PRACTICE_BASIS = 'common practice, no source'
export const PLAN_BASIS = (version: number) => `plan version ${version}`
