import './style/tokens.css'
import './style/base.css'
import './style/shell.css'
import './style/parts.css'
import { render } from 'preact'
import { App } from './app.tsx'

render(<App />, document.getElementById('page')!)
