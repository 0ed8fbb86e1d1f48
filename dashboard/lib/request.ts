import { account } from './people/account.svelte'
import { noteAnswer } from './from-device.svelte'
import { storageTrouble } from './storage-trouble.svelte'
import { ApiError, errorOfResponse, UNREACHABLE, UNREADABLE } from './problem'

/** An answer of the API as JSON. Throws an ApiError that says what to tell. */
export async function read<T>(url: string, signal?: AbortSignal): Promise<T> {
  return request<T>(url, { signal })
}

export async function write<T>(
  method: 'POST' | 'PUT' | 'PATCH' | 'DELETE',
  url: string,
  body?: object,
  headers: Record<string, string> = {},
): Promise<T> {
  if (body === undefined) return request<T>(url, { method, headers })
  return request<T>(url, {
    method,
    headers: { 'content-type': 'application/json', ...headers },
    body: JSON.stringify(body),
  })
}

async function request<T>(url: string, init: RequestInit): Promise<T> {
  let response: Response
  try {
    response = await fetch(url, init)
  } catch (cause) {
    throw new ApiError(UNREACHABLE, { offline: true, cause })
  }
  noteAnswer(response)
  const text = await bodyOf(response)
  if (!response.ok) {
    const error = errorOfResponse(response.status, text, response.headers.get('retry-after'))
    account.noteRefusal(error)
    storageTrouble.noteRefusal(error)
    throw error
  }
  try {
    return (text === '' ? undefined : JSON.parse(text)) as T
  } catch (cause) {
    throw new ApiError(UNREADABLE, { unreadable: true, cause })
  }
}

async function bodyOf(response: Response): Promise<string> {
  try {
    return await response.text()
  } catch (cause) {
    // The connection broke in the middle of the answer.
    throw new ApiError(UNREACHABLE, { offline: true, cause })
  }
}
