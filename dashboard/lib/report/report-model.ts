import type { TrendPicture } from './trend-picture'

/** A report as it is read: words and numbers ready to show, the most important first. */
export interface VetReport {
  readonly dogName: string
  /** Breed, age, weight, height. */
  readonly dogFacts: string
  readonly demo: boolean
  readonly period: string
  readonly writtenOn: string
  /** Versions of the plan that applied, newest first. */
  readonly plan: readonly string[]
  /** What a vet in a hurry reads. */
  readonly inShort: readonly Told[]
  readonly setUps: readonly SetUpFacts[]
  /** Set-ups told in one line, as the page has no room for more of them. */
  readonly otherSetUps: readonly string[]
  readonly done: DoneTable | null
  readonly lists: readonly FactList[]
  /** The owner's own words. */
  readonly questions: string
  readonly method: readonly Told[]
  readonly cautions: string
  readonly whoToAsk: string
  /** What the paper leaves out, and where it is; empty on the screen. */
  readonly leftOut: string
}

/** A line with the words it begins with. */
export interface Told {
  readonly label: string
  readonly text: string
}

export interface SetUpFacts {
  readonly key: string
  readonly title: string
  readonly details: string
  readonly sway: Told
  readonly tremor: Told
  readonly figures: readonly FigureRow[]
  /** What the columns of the figures compare, "First 5" and "Newest 3". */
  readonly columns: { readonly first: string; readonly newest: string }
  readonly picture: TrendPicture | null
  /** Fatigue within sessions, limits passed. */
  readonly within: string
  /** What the grey band of the picture is. */
  readonly noise: string
}

export interface FigureRow {
  /** With the unit of the values. */
  readonly name: string
  /** As it is called within a sentence. */
  readonly inWords: string
  readonly first: string
  readonly newest: string
  readonly change: string
  /** Changes up to here may be noise alone (MDC₉₅ of this comparison). */
  readonly detectable: string
  /** Sessions that count. */
  readonly n: string
  readonly verdict: string
}

/** Weeks as columns; months of them are taken together. */
export interface DoneTable {
  readonly caption: string
  readonly columns: readonly { readonly day: string; readonly month: string }[]
  readonly rows: readonly {
    readonly name: string
    readonly cells: readonly string[]
    /** "Repeated" where its cells say what another row says too. */
    readonly rank: 'first' | 'second' | 'repeated'
  }[]
  readonly totals: string
}

export interface FactList {
  readonly id: 'mornings' | 'medication' | 'events' | 'signs' | 'recordings' | 'notCounted'
  readonly title: string
  readonly items: readonly string[]
  /** Told elsewhere too, week by week: the first that a full page does without. */
  readonly more?: readonly string[]
}
