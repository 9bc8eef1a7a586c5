import { momentText } from '../moment';

export const Moment = ({ at }: { at: string }) => <time dateTime={at}>{momentText(at)}</time>;
