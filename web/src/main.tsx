import { render } from 'preact';
import './app/look/tokens.css';
import './app/look/base.css';
import './app/look/parts.css';
import { App } from './app/App';
import { start } from './app/start';

const place = document.getElementById('page');
if (place !== null) {
  start();
  render(<App />, place);
}
