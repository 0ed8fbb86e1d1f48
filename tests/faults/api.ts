/** Plain calls to a server under test. */
export async function post(url: string, body: object): Promise<{ id: string }> {
  const headers = { 'content-type': 'application/json' }
  const response = await fetch(url, { method: 'POST', headers, body: JSON.stringify(body) })
  if (!response.ok) throw new Error(`${url} answered ${response.status}: ${await response.text()}`)
  return (await response.json()) as { id: string }
}

export async function addSessions(url: string, count: number): Promise<string[]> {
  const { id: dogId } = await post(`${url}/api/dogs`, { name: 'Juniper' })
  const sessions: string[] = []
  for (let i = 0; i < count; i++) {
    sessions.push((await post(`${url}/api/sessions`, { dogId, sensor: 'simulated harness' })).id)
  }
  return sessions
}

export async function sessionState(url: string, session: string): Promise<string> {
  const response = await fetch(`${url}/api/sessions/${session}`)
  return ((await response.json()) as { state: string }).state
}
