import { mount } from 'svelte'
import App from './App.svelte'
import './app.css'
import { registerServiceWorker } from './lib/register-service-worker'

const target = document.getElementById('app')
if (!target) throw new Error('index.html has no element with the id "app"')
mount(App, { target })

// The development server has none: what it serves must be the newest.
if (import.meta.env.PROD) window.addEventListener('load', () => void registerServiceWorker())
