"""Problems with known answers: `folder` reads one of `cases/verification`, `accuracy` solves it and tells how near."""
