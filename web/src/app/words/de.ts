/** All words of one language: one file an area, owned by those who write the area. */
import app from '../../../words/de/app.json';
import bench from '../../../words/de/bench.json';
import cases from '../../../words/de/cases.json';
import devices from '../../../words/de/devices.json';
import entry from '../../../words/de/entry.json';
import history from '../../../words/de/history.json';
import sheet from '../../../words/de/sheet.json';
import space from '../../../words/de/space.json';

export default { app, bench, cases, devices, entry, history, sheet, space };
