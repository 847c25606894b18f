import { mount } from 'svelte';
import App from './App.svelte';
import { Session } from './state/session.svelte.ts';
import { readTheme } from './state/preferences.ts';
import 'ol/ol.css';
import './styles/tokens.css';
import './styles/base.css';

document.documentElement.dataset.theme = readTheme();
const target = document.getElementById('page');
if (target) mount(App, { target, props: { session: new Session() } });
