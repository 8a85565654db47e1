# Phrases des lots et des bacs dont l’anglais se trouve dans le programme.

name-has-ended-cohort-show-name-shows-what-became-of-it = { $name } est terminé ; `cohort show { $name }` montre ce qu’il est devenu
