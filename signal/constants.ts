/** Standard acceleration of gravity, m/s², exact by definition (3rd CGPM 1901; ISO 80000-3). */
export const STANDARD_GRAVITY_MS2 = 9.80665

/** Corner of the sway low-pass, Hz, −3 dB per pass (Mancini et al. 2012, ISway; value from memory). */
export const SWAY_CUTOFF_HZ = 3.5

/** Order of the sway low-pass (Butterworth), applied forward and backward. */
export const SWAY_FILTER_ORDER = 4

/** Band of the sway spectrum, Hz, both edges included (Prieto et al. 1996 use 0.15–5 Hz). */
export const SWAY_SPECTRUM_HZ: readonly [number, number] = [0.15, 5]

/** Longest Welch segment of the sway spectrum, s. */
export const SWAY_SEGMENT_S = 10

/** Holds shorter than this carry no sway spectrum, s. */
export const MIN_SPECTRAL_HOLD_S = 2

/** A frequency band with a name people read. Edges in Hz, low edge < high edge. */
export interface Band {
  readonly name: string
  readonly fromHz: number
  readonly toHz: number
}

/**
 * Default bands: tremor as in human tremor work (4–12 Hz), the fast band of orthostatic tremor
 * (above 12 Hz in dogs, Liatis et al. 2022), and the sway band for the ratio.
 */
export const DEFAULT_BANDS: readonly Band[] = [
  { name: 'tremor', fromHz: 4, toHz: 12 },
  { name: 'fast', fromHz: 12, toHz: 18 },
  { name: 'sway', fromHz: 0.5, toHz: 3.5 },
]

/** A band is measurable when the sensor rate is at least this many times its upper edge. */
export const MIN_RATE_PER_BAND_EDGE = 2.5

/** Stamped on every derived number; raise it in the commit that moves a number. */
export const ANALYSIS_VERSION = '2'
