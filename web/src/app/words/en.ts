/** All words of one language: one file an area, owned by those who write the area. */
import app from '../../../words/en/app.json';
import bench from '../../../words/en/bench.json';
import cases from '../../../words/en/cases.json';
import devices from '../../../words/en/devices.json';
import entry from '../../../words/en/entry.json';
import history from '../../../words/en/history.json';
import sheet from '../../../words/en/sheet.json';
import space from '../../../words/en/space.json';

export default { app, bench, cases, devices, entry, history, sheet, space };
