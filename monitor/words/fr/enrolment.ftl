# La fiche d’une carte, et ce qu’il faut pour qu’une carte soit reçue.


## La fiche : ce qui ne va pas

a-card = une fiche
a-list-of-sensors-each-once = une liste de capteurs, chacun une fois
a-sensor = un capteur
add-option-or-leave-the-probes-out = ajouter { $option }, ou laisser les sondes de côté
an-authority-that-is-valid-today = une autorité valable aujourd’hui
at-most-most-bytes = { $most } octets au plus
at-most-most-names-of-at-most-16-letters-digits-dots-dashes-underscores-each-once = au plus { $most } noms d’au plus 16 lettres, chiffres, points, traits d’union, tirets bas, chacun une fois
copy-the-whole-card-again-from-its-first-opening-to-its-last-closing = copier de nouveau toute la fiche, de son premier { $opening } à son dernier { $closing }
cut-off-count-characters-without-its-beginning-or-end = coupée : { $count } signes, sans son début ou sa fin
damaged-count-characters-that-are-no-json = abîmée : { $count } signes qui ne sont pas du JSON
empty-or-8-to-63-plain-letters-digits-and-signs = vide, ou 8 à 63 lettres sans accent, chiffres et signes
empty-or-a-certificate-in-base64 = vide, ou un certificat en base64
every-key-of-a-card = toutes les clés d’une fiche
give-the-board-fewer-addresses-sensors-or-probes = donner à la carte moins d’adresses, de capteurs ou de sondes
it-is-no-text = ce n’est pas du texte
make-the-card-again-command = refaire la fiche : { $command }
measured-by-count-sensors-of-one-board = mesuré par { $count } capteurs d’une même carte
name-at-least-one-sensor-with-option = nommer au moins un capteur avec { $option }
name-it-as-one-of-these-with-and-its-address-where-that-is-not-the-usual-one = le nommer comme l’un de ceux-ci, avec @ et son adresse si ce n’est pas l’habituelle
name-it-once-several-one-wire-probes-hang-on-one-pin-and-get-names-as-probes = le nommer une seule fois ; plusieurs sondes à un fil pendent à une même broche et reçoivent des noms de sondes
named-count-times = nommé { $count } fois
names-or-addresses-of-this-computer-at-most-most = des noms ou adresses de cet ordinateur, { $most } au plus
one-line-of-json = une ligne de JSON
one-sensor-at-each-address = un capteur à chaque adresse
one-sensor-for-each = un capteur pour chaque grandeur
probes-of-a-one-wire-thermometer-name = les sondes d’un thermomètre à un fil ({ $name })
s-1-to-most-printable-letters-without-blanks = 1 à { $most } signes imprimables, sans espace
set-the-address-pin-of-one-of-them-see-the-wiring-and-name-it-such-as-example = régler la broche d’adresse de l’un des deux (voir le câblage) et le nommer par exemple { $example }
set-the-clock-of-this-computer-if-it-is-wrong-else-make-the-certificates-anew-setup-and-then-a-new-card-for-each-board-card = régler l’heure de cet ordinateur si elle est fausse ; sinon refaire les certificats ({ $setup }), puis une nouvelle fiche pour chaque carte ({ $card })
size-bytes = { $size } octets
something-else = autre chose
something-in-the-card-was-changed-remedy = quelque chose a changé dans la fiche ; { $remedy }
take-one-of-them-to-a-board-of-its-own-or-name-the-probes-of-the-thermometer = mettre l’un d’eux sur une carte à part, ou donner des noms aux sondes du thermomètre
the-i2c-address-address = l’adresse I2C { $address }
the-list-of-probes = la liste des sondes
the-list-of-sensors = la liste des capteurs
the-name-of-a-network-at-most-most-bytes = le nom d’un réseau, { $most } octets au plus
this-card-is-for-another-site-take-one-that-was-made-here-command = cette fiche est pour un autre site ; en prendre une qui a été faite ici : { $command }
unknown = inconnu
valid-from-first-to-last = valable du { $first } au { $last }
why-remedy = { $why } ; { $remedy }

## Le programme des cartes

file-cannot-be-compiled-why = { $file } ne se laisse pas compiler : { $why }
folder-cannot-be-written-why = { $folder } ne peut pas être écrit : { $why }
folder-holds-other-files-files-and-nothing-was-copied-name-a-new-folder = { $folder } contient d’autres fichiers ({ $files }), et rien n’a été copié ; nommer un nouveau dossier
folder-is-a-file-name-a-folder = { $folder } est un fichier ; nommer un dossier
the-board-program-is-not-here-there-is-no-folder-folder-install-this-program-again = le programme des cartes n’est pas là : il n’y a pas de dossier { $folder } ; installer de nouveau ce programme
