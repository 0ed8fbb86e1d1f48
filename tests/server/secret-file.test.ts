import { chmod, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { secretSetting } from '#server/secret-file'
import { temporaryDir } from '../helpers/build-app.ts'

async function file(text: string): Promise<string> {
  const path = join(await temporaryDir(), 'secret')
  await writeFile(path, text, { mode: 0o600 })
  return path
}

describe('a secret setting', () => {
  it('is what the file holds, but for one line end, or what the environment says', async () => {
    expect(secretSetting({ TOKEN_FILE: await file('a b\n') }, 'TOKEN')).toBe('a b')
    expect(secretSetting({ TOKEN_FILE: await file(' x\n\r\n') }, 'TOKEN')).toBe(' x\n')
    expect(secretSetting({ TOKEN: 'plain' }, 'TOKEN')).toBe('plain')
    expect(secretSetting({ TOKEN: '', TOKEN_FILE: '' }, 'TOKEN')).toBeNull()
  })

  it('is refused in one line, without the secret, when it is set twice, missing, empty or open to change', async () => {
    const path = await file('hidden')
    const refused = (env: Record<string, string>, reason: RegExp) => {
      expect(() => secretSetting(env, 'TOKEN')).toThrow(reason)
      expect(() => secretSetting(env, 'TOKEN')).not.toThrow(/hidden|\n/)
    }
    refused({ TOKEN: 'hidden', TOKEN_FILE: path }, /both set/)
    refused({ TOKEN_FILE: `${path}-none` }, /TOKEN_FILE names .*ENOENT.*account alone may read/)
    refused({ TOKEN_FILE: await file('\n') }, /is empty/)
    if (process.platform === 'win32') return
    await chmod(path, 0o622)
    refused({ TOKEN_FILE: path }, /others may change it, run chmod 600/)
  })
})
