import { expect } from 'vitest'
import { TraceError } from '../../../signal/trace/trace-error.ts'

/** The TraceError a call ends in; any other end fails the test. */
export function errorOf(call: () => unknown): TraceError {
  try {
    call()
  } catch (error) {
    expect(error).toBeInstanceOf(TraceError)
    return error as TraceError
  }
  throw new Error('expected a TraceError, but the call returned')
}

export function codeOf(call: () => unknown): string {
  return errorOf(call).code
}
