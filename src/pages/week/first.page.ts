import { Get, Redirect } from '@nestjs/common';
import { PageController } from '../../ui/page-controller.js';

/** The address that is printed when the server starts: it leads to the week. */
@PageController()
export class FirstPage {
  @Get()
  @Redirect('/week', 302)
  lead(): void {}
}
